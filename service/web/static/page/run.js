// One log under one setup, as the service answers it: what was known and decided at each moment.

const numbers = (value, of) => (Array.isArray(value) ? value.map(of).filter(Number.isFinite) : []);

export class Run {
  constructor(log) {
    this.log = log;
    this.steps = [];
    this.outcome = null;
    this.pops = [];
    this.power = [];
    this.vapour = [];
    this.stops = [];
    this.complete = false;
    this._line = 0;
    this._humidS = null;
  }

  // Take the answer to the next line; whether the line was taken.
  take(answer) {
    const post = this.log.posts[this._line++];
    if ("outcome" in answer) this.outcome = answer;
    if (!("decision" in answer)) return "outcome" in answer;
    const readings = post?.readings ?? {};
    this.pops.push(...numbers(readings.pops, (t) => t));
    for (const one of Array.isArray(readings.power) ? readings.power : []) this.power.push([one.t, one.level]);
    this._felt(numbers(readings.humidity, (one) => one?.t), answer);
    const before = this.steps.at(-1)?.answer;
    if (answer.decision === "stop" && before?.decision !== "stop") this.stops.push(answer.as_of);
    this.steps.push({
      answer,
      // How much had come by then. What comes later stands behind it.
      pops: this.pops.length, power: this.power.length, vapour: this.vapour.length, stops: this.stops.length,
      changed: before?.decision !== answer.decision || before.reasons[0].rule !== answer.reasons[0].rule,
    });
    return true;
  }

  // The vapour as the service reckons it from the newest humidity.
  _felt(times, answer) {
    const newest = times.filter((t) => t <= answer.as_of).reduce((a, b) => Math.max(a, b), this._humidS ?? -1);
    const grams = answer.evidence.moisture.vapour_g_m3 ?? null;
    if (newest < 0 || newest === this._humidS || grams === null) return;
    this._humidS = newest;
    this.vapour.push([newest, grams]);
  }

  // The place of the last decision at or before a moment; -1 before the first.
  at(momentS) {
    let low = 0;
    let high = this.steps.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (this.steps[middle].answer.as_of <= momentS) low = middle + 1;
      else high = middle;
    }
    return low - 1;
  }

  get lastS() {
    return this.complete ? this.log.endS : this.steps.at(-1)?.answer.as_of ?? 0;
  }

  // The moments at which the decision or its reason changed.
  changes() {
    return this.steps.filter((step) => step.changed).map((step) => step.answer);
  }

  // The spans with the heating off, as far as was known at a step, which end at a moment.
  offSpans(step, untilS) {
    const levels = this.power.slice(0, step.power).filter(([t]) => t <= untilS).sort((a, b) => a[0] - b[0]);
    const spans = levels.map(([t, level], at) => ({ fromS: t, toS: levels[at + 1]?.[0] ?? untilS, level }));
    return spans.filter((span) => span.level === 0 && span.toS > span.fromS);
  }

  // The spans of one decision each, up to a step.
  decided(index, untilS) {
    const spans = [];
    for (const { answer } of this.steps.slice(0, index + 1)) {
      const last = spans.at(-1);
      if (last?.decision === answer.decision) continue;
      if (last) last.toS = answer.as_of;
      spans.push({ decision: answer.decision, fromS: answer.as_of, toS: untilS });
    }
    return spans;
  }
}
