"use strict";

// Shows /openapi.json. Everything is put in as text, never as markup.

function make(tag, attributes, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  element.append(...children);
  return element;
}

// Words between backquotes are code.
function prose(text) {
  return text.split("`").map((part, at) => (at % 2 ? make("code", {}, part) : part));
}

function paragraph(text, attributes = {}) {
  return make("p", attributes, ...prose(text));
}

function table(caption, heads, rows) {
  const head = make("tr", {}, ...heads.map((text) => make("th", { scope: "col" }, text)));
  const body = rows.map(([first, ...rest]) =>
    make("tr", {}, make("th", { scope: "row" }, ...first), ...rest.map((cell) => make("td", {}, ...cell))));
  return make("div", { class: "wide", tabindex: "0", role: "region", "aria-label": caption },
    make("table", {}, make("caption", {}, caption), make("thead", {}, head), make("tbody", {}, ...body)));
}

const nameOf = (reference) => reference.split("/").pop();
const anchor = (text) => text.toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "");
const code = (text) => make("code", {}, text);

// What a value is, as pieces of a sentence; objects of their own are linked to.
function kind(schema) {
  if (schema.$ref) return [make("a", { href: `#object-${anchor(nameOf(schema.$ref))}` }, nameOf(schema.$ref))];
  const choices = schema.anyOf || schema.oneOf;
  if (choices) return choices.flatMap((one, at) => (at ? [" or ", ...kind(one)] : kind(one)));
  if (schema.allOf) return kind(schema.allOf.find((one) => one.$ref) || schema.allOf[0]);
  if (schema.enum) return [schema.enum.map((word) => `"${word}"`).join(", ")];
  if (schema.type === "array") {
    const most = schema.maxItems ? `, ${schema.maxItems} at most` : "";
    if (schema.items.properties) {
      const parts = Object.entries(schema.items.properties).flatMap(([name, part], at) => {
        const optional = (schema.items.required || []).includes(name) ? "" : "?";
        return [at ? ", " : "", code(name + optional), ": ", ...kind(part)];
      });
      return ["list of {", ...parts, `}${most}`];
    }
    return ["list of ", ...kind(schema.items), most];
  }
  if (schema.additionalProperties && schema.additionalProperties.$ref) return ["by name: ", ...kind(schema.additionalProperties)];
  return [[].concat(schema.type || "any value").join(" or ") + range(schema)];
}

function range(schema) {
  const unit = schema["x-unit"] ? ` ${schema["x-unit"]}` : "";
  if (schema.minimum !== undefined && schema.maximum !== undefined) return ` from ${schema.minimum} to ${schema.maximum}${unit}`;
  if (schema.maxLength !== undefined) return ` of ${schema.minLength || 0} to ${schema.maxLength} characters`;
  return unit;
}

function fields(name, schema) {
  const required = new Set(schema.required || []);
  const rows = Object.entries(schema.properties || {}).map(([field, shape]) => [
    [code(field)], kind(shape), prose(`${shape.description || ""}${required.has(field) ? " (always there)" : ""}`),
  ]);
  return table(`Fields of ${name}`, ["Field", "What it is", "Meaning"], rows);
}

function example(name, shown) {
  const text = typeof shown.value === "string" ? shown.value : JSON.stringify(shown.value, null, 2);
  const query = shown["x-query"] ? [paragraph(`Query: \`${new URLSearchParams(shown["x-query"])}\``)] : [];
  return make("details", {}, make("summary", {}, shown.summary || name), ...query, make("pre", { tabindex: "0" }, text));
}

function content(types) {
  return Object.entries(types).flatMap(([type, body]) => [
    make("p", {}, code(type), ": ", ...kind(body.schema)),
    ...Object.entries(body.examples || {}).map(([name, shown]) => example(name, shown)),
    ...(body.example ? [example("Example", { value: body.example })] : []),
  ]);
}

function answers(told) {
  const good = Object.entries(told.responses).filter(([, response]) => !response.$ref);
  const links = told["x-problems"].flatMap((slug, at) => [at ? ", " : "", make("a", { href: `#problems-${slug}` }, slug)]);
  return [
    ...good.flatMap(([status, response]) => [
      make("p", {}, make("strong", {}, status), `: ${response.description}`), ...content(response.content || {}),
    ]),
    make("p", {}, "Or a problem: ", ...links, "."),
  ];
}

function operation(path, method, told) {
  const title = `${method.toUpperCase()} ${path}`;
  const section = make("section", { "aria-labelledby": anchor(title) }, make("h2", { id: anchor(title) }, code(title)));
  section.append(paragraph(told.summary));
  if (told.description) section.append(paragraph(told.description));
  if (told["x-scope"]) {
    const scope = told["x-scope"] === "any" ? "any scope" : `the scope \`${told["x-scope"]}\``;
    section.append(paragraph(`Where keys are needed: one with ${scope}, as \`Authorization: Bearer KEY\`.`, { class: "quiet" }));
  }
  if (told.parameters) {
    const rows = told.parameters.map((one) => [[code(one.name)], [one.in], prose(one.description || "")]);
    section.append(table(`Parameters of ${title}`, ["Name", "Stands in", "Meaning"], rows));
  }
  if (told.requestBody) section.append(make("h3", {}, "Request"), ...content(told.requestBody.content));
  section.append(make("h3", {}, "Answers"), ...answers(told));
  return section;
}

function object(name, schema) {
  const section = make("section", {}, make("h3", { id: `object-${anchor(name)}` }, name));
  if (schema.description) section.append(paragraph(schema.description));
  section.append(fields(name, schema.items && schema.items.properties ? schema.items : schema));
  return section;
}

function show(description) {
  document.getElementById("title").textContent = `${description.info.title} ${description.info.version}`;
  document.getElementById("summary").replaceChildren(...prose(`${description.info.summary} ${description.info.description}`));
  const operations = Object.entries(description.paths).flatMap(([path, methods]) =>
    Object.entries(methods).map(([method, told]) => operation(path, method, told)));
  const objects = Object.entries(description.components.schemas).map(([name, schema]) => object(name, schema));
  const problems = description["x-problems"].map((one) => [
    [make("code", { id: anchor(one.type) }, one.type)], [String(one.status)], [one.title], prose(one.remedy),
  ]);
  const limits = description["x-limits"].map((one) => [[one.limits], [String(one.value)], [code(one.set_by)]]);
  const rules = description["x-rules"].map((one) => [[code(one.rule)], [one.decision], [one.means]]);
  const parts = [
    ...operations,
    make("h2", { id: "objects" }, "Objects"), ...objects,
    make("h2", { id: "rules" }, "Rules"), table("Codes of rules, in the order in which they are asked", ["Code", "Decision", "Meaning"], rules),
    make("h2", { id: "problems" }, "Problems"), table("Kinds of problem", ["Type", "Status", "Title", "What to do"], problems),
    make("h2", { id: "limits" }, "Limits"), table("Limits, unless set otherwise", ["What", "Limit", "Set by"], limits),
  ];
  const main = document.getElementById("main");
  main.replaceChildren(...parts);
  main.setAttribute("aria-busy", "false");
  const links = [...main.querySelectorAll("h2")].map((head) => make("li", {}, make("a", { href: `#${head.id}` }, head.textContent)));
  document.getElementById("contents").replaceChildren(make("ul", {}, ...links));
  if (location.hash) document.getElementById(location.hash.slice(1))?.scrollIntoView();
}

fetch("/openapi.json")
  .then((response) => (response.ok ? response.json() : Promise.reject(new Error(`status ${response.status}`))))
  .then(show)
  .catch((error) => {
    document.getElementById("waiting").textContent = `The description could not be read: ${error.message}. Load the page again.`;
  });
