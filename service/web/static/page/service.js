// What is asked of the service.

// A problem document in place of an answer.
export class Refused extends Error {
  constructor(problem) {
    super(`${problem.title ?? "Refused"}: ${problem.detail ?? `status ${problem.status}`}`);
    this.status = problem.status;
  }
}

async function answered(path, options, key) {
  const headers = { ...options.headers, ...(key ? { Authorization: `Bearer ${key}` } : {}) };
  let response;
  try {
    response = await fetch(path, { ...options, headers, credentials: "omit", cache: "no-cache" });
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Error("The service cannot be reached. Is it still running?");
  }
  if (response.ok) return response;
  const problem = await response.json().catch(() => ({}));
  throw new Refused({ status: response.status, ...problem });
}

export async function readJson(path, key) {
  return (await answered(path, {}, key)).json();
}

export async function readText(path) {
  return (await answered(path, {}, "")).text();
}

// The answers to the lines of a log, each as soon as it has come.
export async function* replayed(body, key, signal) {
  const response = await answered("/v1/replays", {
    method: "POST", body, signal, headers: { "Content-Type": "application/x-ndjson" },
  }, key);
  const pieces = response.body.pipeThrough(new TextDecoderStream()).getReader();
  let held = "";
  for (;;) {
    const { done, value } = await pieces.read();
    if (done) break;
    const lines = (held + value).split("\n");
    held = lines.pop();
    for (const line of lines) if (line) yield JSON.parse(line);
  }
  if (held) throw new Error("The service stopped in the middle of an answer. Choose the cook again.");
}
