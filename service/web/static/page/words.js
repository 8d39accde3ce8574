// Decisions and evidence in words.

export const SYMBOLS = { continue: "○", warn: "▲", stop: "■" };

// Put a text into a part of the page, unless it stands there already: what stays is not laid out anew.
export function say(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

export const seconds = (s) => `${s >= 100 || Number.isInteger(s) ? Math.round(s) : s.toFixed(1)} s`;

const about = (value) => (value >= 10 ? Math.round(value) : Number(value.toPrecision(2)));

export function remaining({ decision, remaining: left }) {
  if (decision === "stop") return "nothing";
  if (!left) return "cannot be said yet";
  return `${seconds(Math.round(left.estimate_s))} (${left.interval_pct} % interval: ${Math.round(left.low_s)} to ${seconds(Math.round(left.high_s))})`;
}

export function deadline({ decision, stop_by_s: stopByS }) {
  return decision === "stop" ? "passed: stop now" : `${seconds(Math.round(stopByS))}; the appliance then stops by itself`;
}

export function sound({ acoustic }) {
  const parts = [acoustic.status, `${acoustic.pops} pops`];
  if (acoustic.rate_per_s) parts.push(`${about(acoustic.rate_per_s)} a second`);
  if (acoustic.kernels_left) parts.push(`about ${about(acoustic.kernels_left.estimate)} kernels left`);
  return acoustic.status === "absent" ? "none, or not used" : parts.join(", ");
}

export function steam({ moisture }) {
  if (moisture.status === "absent") return "none, or not used";
  const parts = [moisture.status];
  if (Number.isFinite(moisture.vapour_g_m3)) parts.push(`${about(moisture.vapour_g_m3)} g/m³ of vapour`);
  if (Number.isFinite(moisture.onset_s)) parts.push(`steam since ${seconds(Math.round(moisture.onset_s))}`);
  if (moisture.load_g) parts.push(`about ${about(moisture.load_g.estimate)} g of food`);
  if (moisture.start_c) parts.push(`${about(moisture.start_c.estimate)} °C at the start`);
  return parts.join(", ");
}

export function heat({ heating }) {
  const duty = heating.duty_cycle;
  const power = Number.isFinite(duty) && duty < 0.995 ? `, ${Math.round(duty * 100)} % of full power` : "";
  return `${seconds(Math.round(heating.heating_s))} heated${power}`;
}

// The stop beside the window of a good one, for a cook whose truth is known.
export function outcome(stops, window) {
  if (!stops.length) return "";
  const stopped = `Stopped at ${seconds(stops[0])}.`;
  if (!window) return stopped;
  const [low, high] = window;
  const where = stops[0] < low ? "before" : stops[0] > high ? "after" : "inside";
  return `${stopped} A good stop would have been from ${Math.round(low)} to ${seconds(Math.round(high))}: this one is ${where} that window.`;
}

// What was found when a cook was over, and what follows from it.
export function found({ outcome, found: follows }) {
  const parts = Object.entries({ ...outcome, ...follows }).map(([name, value]) => `${name.replaceAll("_", " ")} ${value}`);
  return parts.length ? `Found afterwards: ${parts.join(", ")}.` : "";
}

// A picture in one sentence, for who cannot see it.
export function picture(answer, momentS) {
  const left = answer.remaining;
  const forecast = answer.decision === "stop" ? "stop"
    : left ? `stop forecast at ${seconds(Math.round(answer.as_of + left.estimate_s))}, between ${Math.round(answer.as_of + left.low_s)} and ${seconds(Math.round(answer.as_of + left.high_s))}`
      : "no forecast yet";
  return `Pops, vapour and forecast up to ${seconds(Math.round(momentS))}: ${sound(answer.evidence)}; ${steam(answer.evidence)}; ${forecast}; deadline ${seconds(Math.round(answer.stop_by_s))}.`;
}
