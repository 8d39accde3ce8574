// Where the parts of a picture stand, in pixels, and the scales that place what is drawn.

/* global d3 */

export const LEFT = 40;
const RIGHT = 10;
const ROW = 17;
const PANELS = Object.entries({ pops: 80, vapour: 80, forecast: 140 });
// The lowest part of the forecast panel would stay empty: no cook ends so early in its log.
const FORECAST_FROM = 0.3;
const TITLE = 22;
const STRIP = 18;
const AXIS = 38;

// Marks of single moments stand in rows above the panels.
export const ROWS = ["good", "forecast", "deadline", "stop"];

export class Layout {
  // `hasPops` is whether the cook has any: without, there is no panel for them.
  constructor(width, endS, hasPops) {
    this.width = width;
    this.right = width - RIGHT;
    this.x = d3.scaleLinear([0, endS], [LEFT, this.right]);
    this.rows = Object.fromEntries(ROWS.map((name, at) => [name, ROW * at + 12]));
    this.top = ROW * ROWS.length + 4;
    let y = this.top;
    this.panels = {};
    for (const [name, height] of PANELS.filter(([one]) => hasPops || one !== "pops")) {
      this.panels[name] = { top: y + TITLE, bottom: y + TITLE + height, height };
      y += TITLE + height;
    }
    this.strip = { top: y + TITLE, bottom: y + TITLE + STRIP, height: STRIP };
    this.bottom = this.strip.bottom;
    this.height = this.bottom + AXIS;
    this.stopY = this.upwards("forecast", endS, FORECAST_FROM * endS);
    // Bars of a whole number of seconds that are wide enough to be told apart.
    this.binS = [1, 2, 5, 10, 20, 60].find((s) => this.x(s) - this.x(0) >= 3) ?? 120;
  }

  upwards(panel, most, least = 0) {
    const { top, bottom } = this.panels[panel];
    return d3.scaleLinear([least, most], [bottom, top]);
  }
}

// How many of some moments fall into each stretch of so many seconds.
export function binned(moments, binS) {
  const counts = [];
  for (const t of moments) {
    const at = Math.floor(t / binS);
    counts[at] = (counts[at] ?? 0) + 1;
  }
  return counts;
}
