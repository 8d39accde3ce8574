// The page: a cook is chosen, played against the service under one setup or two, and shown at any moment.

import { Clock } from "./clock.js";
import { logsIn, logsOf } from "./log.js";
import { save, svgText } from "./saving.js";
import { Refused, readJson, readText } from "./service.js";
import { SetupForm } from "./setup.js";
import { Side } from "./side.js";
import { say, seconds } from "./words.js";

const part = (id) => document.getElementById(id);

// Kept here alone: never in the browser's storage, in an address or in a file.
let key = "";
let logs = [];
let log = null;
let told = "";
let areProgrammesListed = false;
let choices = 0;

const clock = new Clock(show, () => Math.min(...asked().map((side) => side.run.lastS)));
const sides = [1, 2].map((number) => new Side(part("sides"), number, (momentS) => clock.seek(momentS)));
const forms = ["Setup A", "Setup B"].map((name) => new SetupForm(part("setup-forms"), name, (form) => ask(forms.indexOf(form))));

const asked = () => sides.filter((side) => side.run && !side.hidden);

function show(momentS) {
  for (const side of sides) side.show(momentS);
  const [whole, end] = [Math.round(momentS), Math.round(clock.endS)];
  say(part("moment"), `${whole} of ${seconds(end)}`);
  if (part("scrub").getAttribute("aria-valuetext") !== `${whole} of ${end} seconds`) {
    part("scrub").setAttribute("aria-valuetext", `${whole} of ${end} seconds`);
  }
  part("scrub").value = momentS;
  say(part("play"), clock.playing ? "Pause" : "Play");
  announce(momentS);
}

// A change of the decision is told to who cannot see it.
function announce(momentS) {
  const now = asked().map((side) => [side, side.answerAt(momentS)]).filter(([, answer]) => answer);
  const text = now.map(([side, { decision, reasons }]) => `${asked().length > 1 ? `${side.name} ` : ""}${decision}. ${reasons[0].rule}`).join(" ");
  if (text === told) return;
  told = text;
  part("told").textContent = now.map(([side, { decision, as_of: asOfS, reasons }]) =>
    `${asked().length > 1 ? `${side.name} ` : ""}At ${seconds(asOfS)}: ${decision}. ${reasons[0].says}`).join(" ");
}

function choose(chosen) {
  performance.mark("chosen");
  log = chosen;
  clock.pause();
  part("trouble").textContent = "";
  part("watch").hidden = true;
  part("watch-head").textContent = log.about.title;
  part("about").textContent = [log.about.shows, log.about.about].filter(Boolean).join(" ");
  clock.endS = log.endS;
  clock.momentS = 0;
  part("scrub").max = log.endS;
  for (const form of forms) form.fill(log);
  for (const at of sides.keys()) ask(at, true);
}

async function ask(at, isNew = false) {
  const [side, form] = [sides[at], forms[at]];
  if (side.hidden || !log) return;
  try {
    await side.ask(log, form, key, () => came(side, isNew));
  } catch (error) {
    tellTrouble(error);
  }
}

// An answer has come: the first of a cook is shown at once, and the cook begins to play. Later ones are shown if they
// change what stands there.
function came(side, isNew) {
  part("watch").hidden = false;
  if (isNew && side === sides[0] && side.run.steps.length === 1 && !side.run.complete) begin(side.run.steps[0].answer);
  else if (!clock.playing && side.isOutdated(clock.momentS)) show(clock.momentS);
}

function begin(answer) {
  part("cautions").replaceChildren(...answer.cautions.map((caution) => Object.assign(document.createElement("li"), { textContent: caution })));
  clock.seek(answer.as_of);
  part("watch").focus();
  performance.mark("drawn");
  if (!areProgrammesListed) listProgrammes().catch(tellTrouble);
  if (!matchMedia("(prefers-reduced-motion: reduce)").matches) clock.play();
}

function tellTrouble(error) {
  part("trouble").textContent = error.message;
  if (!(error instanceof Refused) || ![401, 403].includes(error.status)) return;
  part("key-part").open = true;
  part("key").focus();
}

// A file may hold several cooks, one after the other: the first is shown, and the others can be chosen. What was chosen
// last is shown, whichever comes first.
async function attempt(making) {
  const mine = ++choices;
  try {
    const made = await making();
    if (mine !== choices) return;
    logs = made;
    part("which-part").hidden = logs.length < 2;
    part("which").replaceChildren(...logs.map((_, at) => new Option(`${at + 1} of ${logs.length}`, at)));
    choose(logs[0]);
  } catch (error) {
    if (mine === choices) tellTrouble(error);
  }
}

async function listCooks() {
  const { cooks } = await readJson("/page/cooks.json", "");
  part("cooks").replaceChildren(...cooks.map((cook) => {
    const button = document.createElement("button");
    button.type = "button";
    const [title, shows] = ["strong", "span"].map((tag) => document.createElement(tag));
    title.textContent = cook.title;
    shows.textContent = `${cook.shows} Invented.`;
    button.append(title, shows);
    button.setAttribute("aria-pressed", "false");
    button.addEventListener("click", () => {
      press(button);
      attempt(async () => logsOf(await readText(cook.log), cook));
    });
    return button;
  }));
}

function press(chosen) {
  for (const button of part("cooks").children) button.setAttribute("aria-pressed", String(button === chosen));
}

function take(file) {
  if (!file) return;
  press(null);
  attempt(() => logsIn(file));
}

// Asked once a replay has been answered, since the programmes may need the same key.
async function listProgrammes() {
  areProgrammesListed = true;
  const { programs } = await readJson("/v1/programs", key);
  for (const form of forms) form.offer(programs.map((one) => one.name));
}

function change(direction) {
  const moments = asked().flatMap((side) => side.run.changes().map((answer) => answer.as_of)).sort((a, b) => a - b);
  const next = direction > 0 ? moments.find((t) => t > clock.momentS) : moments.findLast((t) => t < clock.momentS);
  if (next === undefined) return;
  clock.pause();
  clock.seek(next);
}

function compare(is) {
  sides[1].hidden = !is;
  forms[1].hidden = !is;
  document.body.classList.toggle("comparing", is);
  if (is) ask(1);
  else sides[1].stop();
  show(clock.momentS);
}

part("play").addEventListener("click", () => (clock.playing ? clock.pause() : clock.play()));
part("again").addEventListener("click", () => clock.seek(0));
part("earlier").addEventListener("click", () => change(-1));
part("later").addEventListener("click", () => change(1));
part("speed").addEventListener("change", (event) => { clock.speed = Number(event.target.value); });
part("scrub").addEventListener("input", (event) => {
  // Pausing shows the moment as it was, in this slider too.
  const momentS = event.target.valueAsNumber;
  clock.pause();
  clock.seek(momentS);
});
part("compare").addEventListener("change", (event) => compare(event.target.checked));
part("save").addEventListener("click", () => {
  const shown = asked().map((side) => ({
    picture: side.picture, run: side.run, name: side.name, title: log.about.title, answer: side.answerAt(clock.momentS),
  }));
  const name = log.about.title.replace(/[^A-Za-z0-9]+/g, "-").replace(/^-|-$/g, "").toLowerCase();
  save(svgText(shown), `${name}-${Math.round(clock.momentS)}s.svg`);
});
part("key-form").addEventListener("submit", (event) => {
  event.preventDefault();
  key = part("key").value.trim();
  part("trouble").textContent = "";
  for (const at of sides.keys()) ask(at, true);
});
part("which").addEventListener("change", (event) => {
  choices++;
  choose(logs[event.target.value]);
});
part("file").addEventListener("change", (event) => take(event.target.files[0]));
document.addEventListener("dragover", (event) => event.preventDefault());
document.addEventListener("drop", (event) => {
  event.preventDefault();
  take(event.dataTransfer.files[0]);
});
// A browser may have kept what was ticked and typed before.
part("compare").checked = false;
compare(false);
listCooks().catch(tellTrouble);
