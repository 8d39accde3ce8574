// Pictures as one SVG file that needs nothing else: with what they show in words, and with the colours of the page.

import { SYMBOLS } from "./words.js";

const NAMESPACE = "http://www.w3.org/2000/svg";
const EDGE = 16;
const LINE = 18;
const CHARACTER = 6.8;

// The rules for pictures out of page.css, with its colours filled in.
function style() {
  const colours = getComputedStyle(document.documentElement);
  const rules = [...document.styleSheets].flatMap((sheet) => [...sheet.cssRules]);
  return rules.filter((rule) => rule.selectorText?.startsWith(".picture"))
    .map((rule) => rule.cssText.replace(/var\((--[\w-]+)\)/g, (_, name) => colours.getPropertyValue(name).trim())).join("\n");
}

function make(tag, attributes, ...children) {
  const element = document.createElementNS(NAMESPACE, tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  element.append(...children);
  return element;
}

function wrapped(text, width) {
  const lines = [""];
  for (const word of text.split(" ")) {
    if ((lines.at(-1).length + word.length + 1) * CHARACTER > width && lines.at(-1)) lines.push("");
    lines.push(`${lines.pop()} ${word}`.trim());
  }
  return lines;
}

function heading({ picture, title, name, run, answer }) {
  const said = answer ? `${SYMBOLS[answer.decision]} ${answer.decision} at ${answer.as_of} s: ${answer.reasons[0].says}` : "Nothing decided yet.";
  const known = run.log.about.invented ? "An invented cook." : "";
  return [title, `${name} ${known}`.trim(), ...wrapped(said, picture.node.clientWidth)];
}

// The text of one SVG file that holds the pictures side by side.
export function svgText(shown) {
  const headings = shown.map(heading);
  const head = EDGE + LINE * Math.max(...headings.map((lines) => lines.length)) + 6;
  const widths = shown.map(({ picture }) => Number(picture.node.getAttribute("width")));
  const height = head + Math.max(...shown.map(({ picture }) => Number(picture.node.getAttribute("height")))) + EDGE;
  const width = widths.reduce((sum, one) => sum + one + EDGE, EDGE);
  const whole = make("svg", { class: "picture", width, height, viewBox: `0 0 ${width} ${height}` });
  whole.append(make("title", {}, headings.map((lines) => lines.join(" ")).join(" / ")), make("rect", { class: "ground", width, height }));
  let x = EDGE;
  shown.forEach(({ picture }, at) => {
    headings[at].forEach((line, row) => {
      whole.append(make("text", { class: row ? "" : "strong", x: x + 8, y: EDGE + LINE * (row + 0.5) }, line));
    });
    const part = picture.node.cloneNode(true);
    part.setAttribute("x", x);
    part.setAttribute("y", head);
    whole.append(part);
    x += widths[at] + EDGE;
  });
  const text = new XMLSerializer().serializeToString(whole);
  return text.replace(/^<svg[^>]*>/, (tag) => `${tag}<style>${style().replace(/&/g, "&amp;").replace(/</g, "&lt;")}</style>`);
}

export function save(text, name) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([text], { type: "image/svg+xml" }));
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
}
