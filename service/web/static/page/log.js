// A log: the posts of one cook, a request a line, as a hub sent them.

const MOST_BYTES = 8_000_000;
// No cook is longer, and the service takes no time beyond it.
const LONGEST_S = 7200;

function parsed(text) {
  try {
    const post = JSON.parse(text);
    return post !== null && typeof post === "object" && !Array.isArray(post) ? post : null;
  } catch {
    return null;
  }
}

const listed = (value) => (Array.isArray(value) ? value : []);

// The times of a post's readings of one kind; whatever is no number is for the service to refuse.
function times(post, kind) {
  const readings = listed(post?.readings?.[kind]).map((one) => (typeof one === "number" ? one : one?.t));
  return readings.filter((t) => Number.isFinite(t) && t >= 0 && t <= LONGEST_S);
}

export class Log {
  // `about` is what is known of the cook beside its log: a title, whether it is invented, the window of a good stop.
  constructor(lines, about) {
    this.about = about;
    this.lines = lines;
    this.posts = lines.map(parsed);
    this.first = this.posts[0] ?? {};
    this.popsS = this.posts.flatMap((post) => times(post, "pops"));
    const known = this.posts.flatMap((post) => [post?.as_of, ...["humidity", "power", "restarts"].flatMap((kind) => times(post, kind))]);
    this.endS = [...known, ...this.popsS].reduce((latest, t) => (t > latest && t <= LONGEST_S ? t : latest), 1);
  }

  // The name of the programme; empty where the log has one of its own.
  get program() {
    return typeof this.first.program === "string" ? this.first.program : "";
  }

  get setup() {
    return this.first.setup !== null && typeof this.first.setup === "object" ? this.first.setup : {};
  }

  // The body of a replay; with a change, the first post says the new setup, and the new programme if one is named.
  body(change) {
    if (change === null) return this.lines.join("\n") + "\n";
    return this.lines.map((line, at) => {
      const post = this.posts[at];
      if (post === null || (at > 0 && !("setup" in post) && !("program" in post))) return line;
      const { program, setup, ...rest } = post;
      const kept = change.program ? {} : { program };
      return JSON.stringify(at > 0 ? { ...kept, ...rest } : { program: change.program || program, setup: change.setup, ...rest });
    }).join("\n") + "\n";
  }
}

// The cooks of a text: each ends with the line of its outcome, if it has one.
export function logsOf(text, about) {
  const cooks = [[]];
  for (const line of text.split("\n").filter((one) => one.trim())) {
    const last = cooks.at(-1);
    if (last.length && "outcome" in (parsed(last.at(-1)) ?? {})) cooks.push([line]);
    else last.push(line);
  }
  return cooks.filter((lines) => lines.length).map((lines) => new Log(lines, about));
}

// The cooks of a file that a person dropped or chose. Throws an Error that says what is wrong with it.
export async function logsIn(file) {
  const expected = "A log has the posts of one cook, a request a line.";
  if (file.size > MOST_BYTES) throw new Error(`${file.name} is larger than ${MOST_BYTES / 1e6} MB.`);
  const logs = logsOf(await file.text(), { title: file.name, about: "A log from a file of yours." });
  if (!logs.length) throw new Error(`${file.name} is empty. ${expected}`);
  if (logs.every((log) => log.posts.every((post) => post === null))) {
    throw new Error(`${file.name} is no log: none of its lines is a JSON object. ${expected}`);
  }
  return logs;
}
