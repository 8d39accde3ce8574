// The picture of a run up to a moment: pops, vapour, the forecast as it closed in, and what was decided, over one clock.
// It is drawn as SVG, so that it can be saved as it stands; how it looks is said in page.css.

/* global d3 */

import { Layout, LEFT, ROWS, binned } from "./layout.js";
import { SYMBOLS, picture as inWords, seconds } from "./words.js";

const TITLES = {
  pops: ["Pops a second", "bars: heard, line: as reckoned"],
  vapour: ["Vapour, g/m³", "dashes: before steam; ▲ steam begins"],
  forecast: ["Forecast of the stop, s", "band and line; dots: deadline"],
};
const PARTS = { pops: ["bars", "rate"], vapour: ["vapour", "baseline", "onset"], forecast: ["passing", "band", "estimate", "deadline"] };
const CHARACTER = 6.6;

export class Picture {
  constructor(container, number) {
    this._container = container;
    this._id = (name) => `${name}-${number}`;
    this._svg = d3.select(container).append("svg").attr("class", "picture").attr("role", "img");
    this._width = 0;
    this._run = null;
    new ResizeObserver(() => this._again()).observe(container);
  }

  get node() {
    return this._svg.node();
  }

  // The moment under a place of the window; null beside the plot.
  momentAt(clientX) {
    if (!this._layout) return null;
    const x = clientX - this.node.getBoundingClientRect().left;
    return x >= LEFT && x <= this._layout.right ? this._layout.x.invert(x) : null;
  }

  // Draw a run as it was known at its decision of this place, with the cursor at the moment.
  show(run, index, momentS) {
    const isOther = run !== this._run;
    const isNew = isOther || index !== this._index;
    this._run = run;
    this._index = index;
    this._momentS = momentS;
    if (isOther || !this._width) this._lay();
    if (!this._width) return;
    if (isNew) this._draw();
    this._move();
  }

  _again() {
    if (!this._run || Math.floor(this._container.clientWidth) === this._width) return;
    this._lay();
    this._draw();
    this._move();
  }

  // Everything that does not change while the cook is played.
  _lay() {
    this._width = Math.floor(this._container.clientWidth);
    if (!this._width) return;
    const layout = new Layout(this._width, this._run.log.endS, this._run.log.popsS.length > 0);
    this._layout = layout;
    this._busiest = d3.max(binned(this._run.log.popsS, layout.binS)) ?? 0;
    const svg = this._svg.attr("width", layout.width).attr("height", layout.height)
      .attr("viewBox", `0 0 ${layout.width} ${layout.height}`);
    svg.selectAll("*").remove();
    this._patterns(svg.append("defs"));
    this._at = (name, parent = svg, tag = "path") => parent.append(tag).attr("class", name);
    const plot = svg.append("g").attr("clip-path", `url(#${this._id("plot")})`);
    this._off = plot.append("g");
    this._marks = {};
    for (const name of ["window", "span", "cursor", "deadline-at", "estimate-at"]) this._marks[name] = this._at(name, plot);
    this._paths = {};
    for (const [panel, names] of Object.entries(PARTS).filter(([one]) => one in layout.panels)) {
      const group = svg.append("g").attr("clip-path", `url(#${this._id(panel)})`);
      for (const name of names) this._paths[name] = this._at(name, group);
      this._title(panel);
    }
    this._stops = this._at("stops", svg);
    this._strip = svg.append("g");
    this._labels = Object.fromEntries(ROWS.map((row) => [row, this._at(`label at-${row}`, svg, "text").attr("y", layout.rows[row])]));
    this._axes();
    this._window();
  }

  _patterns(defs) {
    const { x, right, top, bottom, panels } = this._layout;
    const clip = (name, from, to) => defs.append("clipPath").attr("id", this._id(name)).append("rect")
      .attr("x", LEFT).attr("y", from).attr("width", right - x(0)).attr("height", to - from);
    clip("plot", 0, bottom);
    for (const [name, panel] of Object.entries(panels)) clip(name, panel.top, panel.bottom);
    const hatch = (name, lines, size) => defs.append("pattern").attr("id", this._id(name)).attr("class", name)
      .attr("patternUnits", "userSpaceOnUse").attr("width", size).attr("height", size)
      .call((pattern) => pattern.append("rect").attr("width", size).attr("height", size))
      .append("path").attr("d", lines);
    hatch("off", "M0 6 6 0", 6);
    hatch("warn", "M-2 2 2 -2M0 8 8 0M6 10 10 6", 8);
    this._top = top;
  }

  _title(panel) {
    const { top } = this._layout.panels[panel];
    const text = this._at("title", this._svg, "text").attr("x", LEFT).attr("y", top - 6);
    const [title, key] = TITLES[panel];
    text.append("tspan").attr("class", "strong").text(title);
    if ((title.length + key.length + 3) * CHARACTER < this._width - LEFT) text.append("tspan").text(`  ${key}`).attr("dx", 8);
  }

  _axes() {
    const { x, bottom, right, panels, stopY } = this._layout;
    const across = d3.axisBottom(x).ticks(Math.max(3, Math.floor(this._width / 90))).tickSizeOuter(0);
    this._svg.append("g").attr("class", "axis").attr("transform", `translate(0,${bottom + 2})`).call(across);
    this._clockLabel = this._at("label clock", this._svg, "text").attr("x", right).attr("y", bottom + 34).attr("text-anchor", "end");
    this._upwards = {};
    this._most = {};
    for (const [name, { bottom: floor }] of Object.entries(panels)) {
      this._at("floor").attr("d", `M${LEFT} ${floor}H${right}`);
      this._upwards[name] = this._svg.append("g").attr("class", "axis").attr("transform", `translate(${LEFT},0)`);
    }
    this._upwards.forecast.call(d3.axisLeft(stopY).ticks(4).tickSizeOuter(0));
    const [from, to] = stopY.domain();
    this._paths.passing.attr("d", `M${x(from)} ${stopY(from)}L${x(to)} ${stopY(to)}`);
  }

  // The window of a good stop, where the truth about the cook is known.
  _window() {
    const window = this._run.log.about.stop_window_s;
    if (!window) return;
    const { x, rows, bottom } = this._layout;
    const [low, high] = window.map(x);
    this._marks.window.attr("d", `M${low} ${rows.good - 8}V${bottom}H${high}V${rows.good - 8}Z`);
    this._label("good", `good stop ${Math.round(window[0])} to ${seconds(Math.round(window[1]))}`, low, high);
  }

  // A label beside a mark, on the side that has room; beyond the picture it stands at its edge.
  _label(row, text, fromX, toX = fromX) {
    const { right } = this._layout;
    const room = text.length * CHARACTER;
    const fits = toX + 5 + room < right;
    const x = fromX > right ? right : fits ? toX + 5 : Math.max(fromX - 5, LEFT + room);
    this._labels[row].text(fromX > right ? `${text} ›` : text).attr("x", x).attr("text-anchor", fits ? "start" : "end");
  }

  _draw() {
    const step = this._run.steps[this._index];
    if (!step) {
      for (const path of Object.values(this._paths)) if (!path.classed("passing")) path.attr("d", null);
      for (const name of ["span", "deadline-at", "estimate-at"]) this._marks[name].attr("d", null);
      for (const row of ["forecast", "deadline", "stop"]) this._labels[row].text("");
      this._stops.attr("d", null);
      this._off.selectAll("*").remove();
      this._strip.selectAll("*").remove();
      this._svg.attr("aria-label", "Nothing has been decided yet.");
      return;
    }
    const { answer } = step;
    const past = this._run.steps.slice(0, this._index + 1).map((one) => one.answer);
    this._drawOff(step);
    this._drawPops(step, past);
    this._drawVapour(step);
    this._drawForecast(past);
    this._drawAhead(answer);
    this._drawDecided(step);
    this._clockLabel.text(`seconds since the start; now ${seconds(answer.as_of)}`);
    this._svg.attr("aria-label", inWords(answer, answer.as_of));
  }

  _drawOff(step) {
    const { x, bottom } = this._layout;
    this._off.selectAll("rect").data(this._run.offSpans(step, step.answer.as_of)).join("rect")
      .attr("fill", `url(#${this._id("off")})`).attr("y", this._top).attr("height", bottom - this._top)
      .attr("x", ({ fromS }) => x(fromS)).attr("width", ({ fromS, toS }) => x(toS) - x(fromS));
  }

  _drawPops(step, past) {
    const { x, binS, panels } = this._layout;
    if (!panels.pops) return;
    const heard = binned(this._run.pops.slice(0, step.pops).filter((t) => t <= step.answer.as_of), binS);
    const rateOf = (one) => one.evidence.acoustic.rate_per_s;
    const most = Math.max(2, this._busiest / binS, d3.max(past, rateOf) ?? 0);
    const y = this._layout.upwards("pops", most * 1.05).nice(3);
    this._climb("pops", y);
    const bars = heard.map((count, at) => `M${x(at * binS) + 0.5} ${panels.pops.bottom}V${y(count / binS)}H${x((at + 1) * binS) - 0.5}V${panels.pops.bottom}Z`);
    this._paths.bars.attr("d", bars.join(""));
    this._paths.rate.attr("d", d3.line().defined((one) => Number.isFinite(rateOf(one))).x((one) => x(one.as_of)).y((one) => y(rateOf(one)))(past));
  }

  // The axis at the left of a panel, drawn anew only when it has changed.
  _climb(panel, y) {
    const most = y.domain()[1];
    if (this._most[panel] === most) return;
    this._most[panel] = most;
    this._upwards[panel].call(d3.axisLeft(y).ticks(3).tickSizeOuter(0));
  }

  _drawVapour(step) {
    const { x, panels } = this._layout;
    const { baseline_g_m3: baseline, onset_s: onsetS } = step.answer.evidence.moisture;
    const felt = this._run.vapour.slice(0, step.vapour);
    const y = this._layout.upwards("vapour", Math.max(8, (d3.max(felt, ([, grams]) => grams) ?? 0) * 1.1)).nice(3);
    this._climb("vapour", y);
    this._paths.vapour.attr("d", d3.line()(felt.map(([t, grams]) => [x(t), y(grams)])));
    this._paths.baseline.attr("d", Number.isFinite(baseline) ? `M${LEFT} ${y(baseline)}H${x(step.answer.as_of)}` : null);
    const { top, bottom } = panels.vapour;
    this._paths.onset.attr("d", Number.isFinite(onsetS) ? `M${x(onsetS)} ${bottom}V${top + 9}m-5 0h10l-5 -9z` : null);
  }

  _drawForecast(past) {
    const { x, stopY } = this._layout;
    const going = (one) => one.decision !== "stop";
    const known = (one) => going(one) && one.remaining !== null;
    const at = (end) => (one) => stopY(one.as_of + one.remaining[end]);
    const across = (one) => x(one.as_of);
    this._paths.band.attr("d", d3.area().defined(known).x(across).y0(at("low_s")).y1(at("high_s"))(past));
    this._paths.estimate.attr("d", d3.line().defined(known).x(across).y(at("estimate_s"))(past));
    this._paths.deadline.attr("d", d3.line().defined(going).x(across).y((one) => stopY(one.stop_by_s))(past));
  }

  // What lies ahead of the moment: the forecast and the deadline, in their rows and down through the panels.
  _drawAhead({ decision, as_of: asOfS, remaining: left, stop_by_s: stopByS }) {
    const { x, rows, bottom } = this._layout;
    const going = decision !== "stop";
    const ahead = going && left ? [left.low_s, left.estimate_s, left.high_s].map((s) => x(asOfS + s)) : null;
    this._marks.span.attr("d", ahead && `M${ahead[0]} ${rows.forecast - 8}V${bottom}H${ahead[2]}V${rows.forecast - 8}Z`);
    this._marks["estimate-at"].attr("d", ahead && `M${ahead[1]} ${rows.forecast - 8}V${bottom}`);
    this._labels.forecast.text("");
    if (ahead) this._label("forecast", `forecast ${Math.round(asOfS + left.low_s)} to ${seconds(Math.round(asOfS + left.high_s))}`, ahead[0], ahead[2]);
    this._marks["deadline-at"].attr("d", going ? `M${x(stopByS)} ${rows.deadline - 8}V${bottom}` : null);
    this._labels.deadline.text("");
    if (going) this._label("deadline", `deadline ${seconds(Math.round(stopByS))}`, x(stopByS));
  }

  _drawDecided(step) {
    const { x, rows, bottom, strip } = this._layout;
    const stops = this._run.stops.slice(0, step.stops);
    this._stops.attr("d", stops.map((t) => `M${x(t)} ${bottom}V${rows.stop}M${x(t) - 5} ${rows.stop - 9}h10v10h-10z`).join("") || null);
    this._labels.stop.text("");
    if (stops.length) this._label("stop", `stop ${seconds(stops[0])}`, x(stops[0]) - 5, x(stops[0]) + 5);
    const spans = this._run.decided(this._index, step.answer.as_of);
    const wide = ({ fromS, toS }) => x(toS) - x(fromS);
    this._strip.selectAll("rect").data(spans).join("rect").attr("class", ({ decision }) => `decided ${decision}`)
      .attr("fill", ({ decision }) => (decision === "warn" ? `url(#${this._id("warn")})` : null))
      .attr("x", ({ fromS }) => x(fromS)).attr("width", wide).attr("y", strip.top).attr("height", strip.height);
    this._strip.selectAll("text").data(spans).join("text").attr("class", ({ decision }) => `said ${decision}`)
      .attr("x", ({ fromS, toS }) => (x(fromS) + x(toS)) / 2).attr("y", strip.top + 13).attr("text-anchor", "middle")
      .text((span) => {
        const said = `${SYMBOLS[span.decision]} ${span.decision}`;
        return wide(span) > (said.length + 1) * CHARACTER ? said : wide(span) > 14 && span.decision !== "warn" ? SYMBOLS[span.decision] : "";
      });
  }

  _move() {
    const { x, bottom } = this._layout;
    this._marks.cursor.attr("d", `M${x(this._momentS)} ${this._top}V${bottom}`);
  }
}
