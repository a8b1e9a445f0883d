// Today's work: fetched in one piece, kept, and brought together with the runs worked on this phone.

import * as outbox from "./outbox.js";
import { bundleFrom, fromServer, runFrom } from "./shapes.js";
import { change, current } from "./state.js";
import * as store from "./store.js";
import * as wire from "./wire.js";

export async function readBundle() {
  const kept = await store.kept("bundle");
  if (!kept) return;
  change({ bundle: bundleFrom(kept.json), bundleAt: kept.at });
}

export async function refreshBundle() {
  await outbox.send();
  const before = await asItStands();
  try {
    const json = await wire.get("/api/v1/work-bundle/");
    const kept = { json, at: Date.parse(json.made_at) };
    await store.keep("bundle", kept);
    change({ bundle: bundleFrom(json), bundleAt: kept.at, reach: "online" });
    await bringTogether(before);
    return true;
  } catch (fault) {
    if (!(fault instanceof wire.Unanswered)) throw fault;
    change({ reach: fault.kind === "refused" ? current().reach : fault.kind, reachWords: fault.kind === "refused" ? fault.words : "" });
    return false;
  }
}

// What was worked on, or waited to be sent, while the server was being asked is newer here than in its answer.
const asItStands = async () => ({
  runs: new Map(current().runs.map((run) => [run.key, run])),
  pending: new Set((await outbox.list()).filter((each) => ["waiting", "asks"].includes(each.state)).map((each) => each.run)),
});

async function bringTogether(before) {
  const { bundle } = current();
  const news = new Map(bundle.tasks.filter((each) => each.run && each.content).map((task) => [task.run.key, task]));
  const gone = current().runs.filter((run) => run.serverId && !run.isOver && !news.has(run.key));
  const fresh = new Map(await Promise.all(gone.map(async (run) => [run.key, await runThere(run.serverId)])));
  const { pending } = await asItStands();
  const isPending = (key) => before.pending.has(key) || pending.has(key);
  // From here nothing is waited for, so that nothing entered meanwhile is written over.
  const runs = new Map(current().runs.map((run) => [run.key, run]));
  const changed = [];
  const put = (run) => {
    runs.set(run.key, run);
    changed.push(["runs", run]);
  };
  const isUntouched = (key) => runs.get(key) === before.runs.get(key);
  for (const [key, task] of news) if (isUntouched(key)) put(merged(runs.get(key), task, isPending(key)));
  for (const [key, json] of fresh) if (json && isUntouched(key) && !isPending(key)) put({ ...runs.get(key), ...fromServer(json) });
  change({ runs: [...runs.values()] });
  await store.put(changed);
}

// A run the server will not show stays as it was last known.
async function runThere(id) {
  try {
    return await wire.get(`/api/v1/runs/${id}/`);
  } catch (fault) {
    if (fault.kind === "refused") return null;
    throw fault;
  }
}

// What was entered here and not yet taken stands; otherwise the server's word does.
function merged(mine, task, isPending) {
  if (!mine) return runFrom(task.run, task);
  if (isPending) return { ...mine, serverId: task.run.id, number: task.run.number };
  const { answers, ...fresh } = fromServer(task.run);
  return { ...mine, ...fresh, answers, lot: runFrom(task.run, task).lot ?? mine.lot };
}

// The run in hand of a task, whoever has it: the bundle holds only what is mine or free.
export async function runInHand(task, text) {
  const rows = await wire.get(`/api/v1/runs/?task=${task}`);
  const row = (rows.results ?? rows).find((each) => ["open", "paused", "finished"].includes(each.state));
  if (!row) return null;
  const json = await wire.get(`/api/v1/runs/${row.id}/`);
  return { ...text, key: json.key, ...fromServer(json), isAside: false, drafts: {}, timers: {} };
}

// What the server said about a command changes the run it belongs to.
export async function hear(command, answer) {
  if (!command.run || !["applied", "repeated"].includes(answer.status)) return;
  const run = current().runs.find((each) => each.key === command.run);
  if (!run) return;
  const difference = {};
  if (command.kind === "open_run") Object.assign(difference, { serverId: answer.result.run, number: answer.result.number });
  if (command.kind === "finish") {
    difference.verdict = { outcome: answer.result.verdict, reason: answer.result.reason };
  }
  if (!Object.keys(difference).length) return;
  const changed = { ...run, ...difference };
  change({ runs: [...current().runs.filter((each) => each.key !== run.key), changed] });
  await store.put([["runs", changed]]);
}
