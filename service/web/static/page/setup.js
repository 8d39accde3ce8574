// A setup as a person edits it: the log's own, until something else is said.

const NUMBERS = ["rated_w", "load_g", "gap_s", "max_heating_s"];
const EDITED = [...NUMBERS, "sensors", "oven"];

export class SetupForm {
  // `changed` is called when the setup of this form shall be asked about.
  constructor(parent, name, changed) {
    this.name = name;
    this._form = document.getElementById("setup-template").content.cloneNode(true).querySelector("form");
    this._form.querySelector("legend").textContent = name;
    parent.append(this._form);
    this._log = null;
    this._offered = [];
    this._form.addEventListener("submit", (event) => {
      event.preventDefault();
      if (this._taken()) changed(this);
    });
    this._form.addEventListener("reset", (event) => {
      event.preventDefault();
      this.fill(this._log);
      changed(this);
    });
    this._field("oven").addEventListener("input", () => this._field("oven").setCustomValidity(""));
  }

  _field(name) {
    return this._form.elements.namedItem(name);
  }

  set hidden(is) {
    this._form.hidden = is;
  }

  // Let a person choose among these programmes too.
  offer(programmes) {
    this._offered = programmes;
    const chosen = this._field("program").value;
    this._listProgrammes();
    this._field("program").value = chosen;
  }

  // A programme of the log's own has no name to be listed by.
  _listProgrammes() {
    const names = new Set([this._log?.program ?? "", ...this._offered]);
    this._field("program").replaceChildren(...[...names].map((name) => new Option(name || "as in the log", name)));
  }

  // Put in what the log says.
  fill(log) {
    this._log = log;
    const { setup, program } = log;
    for (const name of NUMBERS) this._field(name).value = setup[name] ?? "";
    this._field("sensors").value = Array.isArray(setup.sensors) ? [...setup.sensors].sort().join(",") : "";
    this._field("oven").value = setup.oven ? JSON.stringify(setup.oven) : "";
    this._listProgrammes();
    this._field("program").value = program;
    this._asFilled = JSON.stringify(this._said());
  }

  // What is said instead of the log's programme and setup; null where that is the same.
  change() {
    const said = this._said();
    if (JSON.stringify(said) === this._asFilled) return null;
    const { program, ...edited } = said;
    const kept = Object.entries(this._log.setup).filter(([name]) => !EDITED.includes(name));
    return { program, setup: { ...Object.fromEntries(kept), ...edited } };
  }

  _said() {
    const said = { program: this._field("program").value };
    for (const name of NUMBERS) if (this._field(name).value !== "") said[name] = this._field(name).valueAsNumber;
    if (this._field("sensors").value) said.sensors = this._field("sensors").value.split(",");
    if (this._field("oven").value.trim()) said.oven = JSON.parse(this._field("oven").value);
    return said;
  }

  // Whether everything in the form can be sent; where not, the browser shows the person what is wrong.
  _taken() {
    const oven = this._field("oven");
    try {
      if (oven.value.trim()) JSON.parse(oven.value);
    } catch {
      oven.setCustomValidity("This is no JSON. An oven profile looks like {\"sensor_lag_s\": 6}.");
    }
    return this._form.reportValidity();
  }

  // In a few words, for the head of a picture.
  get words() {
    const change = this.change();
    if (change === null) return `${this.name}: as in the log.`;
    // A profile is a whole page of numbers.
    const parts = Object.entries(change.setup).map(([name, value]) => (name === "oven" ? "an oven profile" : `${name} ${value}`));
    return `${this.name}: ${[change.program || "programme as in the log", ...parts].join(", ")}.`;
  }
}
