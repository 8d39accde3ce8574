// One setup of the cook: its run against the service, and what the page shows of it.

import { Picture } from "./picture.js";
import { Run } from "./run.js";
import { replayed } from "./service.js";
import { SYMBOLS, deadline, found, heat, outcome, remaining, say, seconds, sound, steam } from "./words.js";

export class Side {
  // `seek` is called with a moment that a person has chosen in this part.
  constructor(parent, number, seek) {
    this._part = document.getElementById("side-template").content.cloneNode(true).querySelector("section");
    parent.append(this._part);
    this._seek = seek;
    this.picture = new Picture(this._one(".picture"), number);
    this.run = null;
    this._asking = null;
    this._one(".picture").addEventListener("pointerdown", (event) => this._pointed(event));
    this._one(".picture").addEventListener("pointermove", (event) => event.buttons === 1 && this._pointed(event));
  }

  _one(selector) {
    return this._part.querySelector(selector);
  }

  set hidden(is) {
    this._part.hidden = is;
  }

  get hidden() {
    return this._part.hidden;
  }

  // Play the log against the service; `came` is called after each answer. Rejects when the service does not answer.
  async ask(log, form, key, came) {
    this.stop();
    const asking = new AbortController();
    this._asking = asking;
    this.name = form.words;
    this._one(".name").textContent = this.name;
    this._part.setAttribute("aria-label", this.name);
    this._one(".wrong").hidden = true;
    this._one(".found").textContent = "";
    this._one("tbody").replaceChildren();
    const run = new Run(log);
    this.run = run;
    this._shown = null;
    try {
      for await (const answer of replayed(log.body(form.change()), key, asking.signal)) {
        if (!run.take(answer)) this._tellRefused(answer);
        came(this);
      }
      run.complete = true;
      this._one(".found").textContent = run.outcome ? found(run.outcome) : "";
      this._tellChanges();
    } catch (error) {
      if (asking.signal.aborted) return;
      throw error;
    }
    came(this);
  }

  stop() {
    this._asking?.abort();
  }

  // The decision at a moment; undefined before the first.
  answerAt(momentS) {
    return this.run?.steps[this.run.at(momentS)]?.answer;
  }

  // Whether something else than what is shown was decided at a moment.
  isOutdated(momentS) {
    return this._shown === null || this._shown !== this.run.steps[this.run.at(momentS)] || this.run.complete;
  }

  show(momentS) {
    if (!this.run || this.hidden) return;
    const index = this.run.at(momentS);
    this.picture.show(this.run, index, momentS);
    const step = this.run.steps[index];
    if (this._shown === step && step) return;
    this._shown = step;
    if (step) this._tell(step);
    else this._tellNothing();
  }

  _tell({ answer, stops }) {
    const [deciding, ...others] = answer.reasons;
    this._one(".badge").dataset.decision = answer.decision;
    this._say(".badge", `${SYMBOLS[answer.decision]} ${answer.decision}`);
    this._say(".reason", deciding.says);
    this._say(".also", others.map((reason) => reason.says).join(" "));
    this._say(".facts .remaining", remaining(answer));
    this._say(".facts .deadline", deadline(answer));
    this._say(".facts .sound", sound(answer.evidence));
    this._say(".facts .steam", steam(answer.evidence));
    this._say(".facts .heat", heat(answer.evidence));
    this._say(".outcome", outcome(this.run.stops.slice(0, stops), this.run.log.about.stop_window_s));
  }

  _say(selector, text) {
    say(this._one(selector), text);
  }

  _tellNothing() {
    this._one(".badge").dataset.decision = "";
    this._say(".badge", "nothing yet");
    const none = this.run.complete ? "The service refused every line." : "Waiting for the service.";
    this._say(".reason", this.run.steps.length ? "The first post has not come yet." : none);
    for (const emptied of this._part.querySelectorAll(".also, .outcome, .facts dd")) say(emptied, "");
  }

  _tellChanges() {
    const rows = this.run.changes().map((answer) => {
      const row = document.createElement("tr");
      const at = document.createElement("button");
      at.type = "button";
      at.textContent = seconds(answer.as_of);
      at.addEventListener("click", () => this._seek(answer.as_of));
      const cells = [at, `${SYMBOLS[answer.decision]} ${answer.decision}`, answer.reasons[0].says].map((content) => {
        const cell = document.createElement("td");
        cell.append(content);
        return cell;
      });
      row.append(...cells);
      return row;
    });
    this._one("tbody").replaceChildren(...rows);
  }

  _tellRefused(problem) {
    const places = (problem.errors ?? []).map((error) => `${error.pointer}: ${error.detail}`).join("; ");
    const item = document.createElement("li");
    item.textContent = `Line ${problem.line}: ${places || problem.detail}`;
    if (this._one(".wrong").hidden) this._one(".wrong ul").replaceChildren();
    this._one(".wrong").hidden = false;
    this._one(".wrong ul").append(item);
  }

  _pointed(event) {
    const momentS = this.picture.momentAt(event.clientX);
    if (momentS !== null) this._seek(momentS);
  }
}
