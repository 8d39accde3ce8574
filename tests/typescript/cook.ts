// A whole cook with the client that was generated from the document: `node made/cook.js URL < log`.
//
// Prints a line of JSON for each decision. The types are the document's: what it does not say does not compile.

import createClient from "openapi-fetch";
import type { components, paths } from "./cookstop";

type Request = components["schemas"]["DecisionRequest"];

declare const process: {
    argv: string[];
    exitCode: number;
    stdin: AsyncIterable<{ toString(): string }>;
};

async function posts(): Promise<Request[]> {
    let text = "";
    for await (const piece of process.stdin) text += piece.toString();
    return text
        .split("\n")
        .filter((line) => line !== "")
        .map((line) => JSON.parse(line) as Request);
}

const client = createClient<paths>({ baseUrl: process.argv[2] ?? "" });
const { data: known } = await client.GET("/v1/programs");
if (!known?.programs?.some((programme) => programme.name === "popcorn")) throw new Error("it knows no popcorn");

let state: string | undefined;
for (const post of await posts()) {
    const { data, error } = await client.POST("/v1/decisions", { body: state ? { ...post, state } : post });
    if (error) throw new Error(`${error.status} ${error.detail}`);
    state = data.state;
    const remaining = data.remaining?.estimate_s ?? null;
    const kernels = data.evidence.acoustic.kernels_left?.estimate ?? null;
    console.log(JSON.stringify({ at: data.as_of, decision: data.decision, why: data.reasons[0]?.rule, remaining, kernels }));
    if (data.decision === "stop") break;
}

const { error } = await client.POST("/v1/decisions", { body: { program: "popcorn", as_of: -1 } });
console.log(JSON.stringify({ refused: error?.status, at: error?.errors?.[0]?.pointer }));
