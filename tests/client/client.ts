// A client of the service, written from its OpenAPI document alone: create, correct, list, read a brief.
import { randomUUID } from "node:crypto";
import createClient from "openapi-fetch";
import type { components, paths } from "./api.js";

const [address, key, boat, zone, fishedOn] = process.argv.slice(2) as [string, string, string, string, string];
const api = createClient<paths>({ baseUrl: address, headers: { Authorization: `Bearer ${key}` } });
type Problem = components["schemas"]["Problem"];

function good<T>(answer: { data?: T; error?: Problem; response: Response }): T {
  if (answer.data === undefined) {
    const why = answer.error?.errors?.map((e) => `${e.pointer}: ${e.detail}`).join("; ") ?? answer.error?.detail;
    throw new Error(`${answer.response.status}: ${why}`);
  }
  return answer.data;
}

// Create; the same idempotency key again is answered with the same report.
const body: components["schemas"]["Report"] = {
  boat, zone, fishedOn, anglers: 24,
  catch: [{ species: "SBF", kept: 31, smallest: 18, largest: 42 }],
  rigs: [{ species: "SBF", lineClass: 30, hook: { style: "circle", size: "1/0" }, winning: true }],
};
const header = { "Idempotency-Key": randomUUID() };
const created = good(await api.POST("/api/v1/reports", { params: { header }, body }));
const repeated = await api.POST("/api/v1/reports", { params: { header }, body });
console.log(`created ${created.state} version ${created.version}, repeated ${repeated.response.status}`);

// A refusal names every wrong field.
const wrong = await api.POST("/api/v1/reports", { params: { header: { "Idempotency-Key": randomUUID() } }, body: { ...body, anglers: 0 } });
console.log(`refused ${wrong.error?.errors?.[0]?.pointer}`);

// Correct: what was read is put back with a change.
const path = { id: created.id };
const read = await api.GET("/api/v1/reports/{id}", { params: { path } });
const report = good(read);
report.catch[0]!.kept = 32;
const corrected = good(await api.PUT("/api/v1/reports/{id}", {
  params: { path, header: { "If-Match": read.response.headers.get("ETag")! } }, body: report,
}));
console.log(`corrected to ${corrected.catch[0]?.kept} version ${corrected.version}`);

// List, page by page.
let count = 0;
for (let cursor: string | undefined, more = true; more; ) {
  const page = await api.GET("/api/v1/reports", { params: { query: { boat, limit: 1, cursor } } });
  count += good(page).items.length;
  cursor = /cursor=([^&>]+)/.exec(page.response.headers.get("Link") ?? "")?.[1];
  more = cursor !== undefined;
}
console.log(`listed ${count}`);

const brief = good(await api.GET("/api/v1/zones/{zone}/species/{species}/brief", { params: { path: { zone, species: "SBF" } } }));
console.log(`brief ${brief.evidence.strength}, missing ${brief.missing.length > 0}`);
