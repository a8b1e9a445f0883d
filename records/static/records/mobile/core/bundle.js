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
  try {
    const json = await wire.get("/api/v1/work-bundle/");
    const kept = { json, at: Date.parse(json.made_at) };
    await store.keep("bundle", kept);
    change({ bundle: bundleFrom(json), bundleAt: kept.at, reach: "online" });
    await bringTogether();
    return true;
  } catch (fault) {
    if (!(fault instanceof wire.Unanswered)) throw fault;
    change({ reach: fault.kind === "refused" ? current().reach : fault.kind, reachWords: fault.kind === "refused" ? fault.words : "" });
    return false;
  }
}

async function bringTogether() {
  const { bundle } = current();
  const commands = await outbox.list();
  const runs = new Map((await store.all("runs")).map((run) => [run.key, run]));
  const isPending = (key) => commands.some((each) => each.run === key && ["waiting", "asks"].includes(each.state));
  const seen = new Set();
  for (const task of bundle.tasks.filter((each) => each.run && each.content)) {
    seen.add(task.run.key);
    runs.set(task.run.key, merged(runs.get(task.run.key), task, isPending(task.run.key)));
  }
  for (const run of runs.values()) {
    if (run.serverId && !run.isOver && !seen.has(run.key) && !isPending(run.key)) {
      const json = await wire.get(`/api/v1/runs/${run.serverId}/`);
      runs.set(run.key, { ...run, ...fromServer(json) });
    }
  }
  const rows = [...runs.values()];
  await store.put(rows.map((run) => ["runs", run]));
  change({ runs: rows });
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
  const run = await store.one("runs", command.run);
  if (!run) return;
  const difference = {};
  if (command.kind === "open_run") Object.assign(difference, { serverId: answer.result.run, number: answer.result.number });
  if (command.kind === "finish") {
    difference.verdict = { outcome: answer.result.verdict, reason: answer.result.reason };
  }
  if (!Object.keys(difference).length) return;
  const changed = { ...run, ...difference };
  await store.put([["runs", changed]]);
  change({ runs: [...current().runs.filter((each) => each.key !== run.key), changed] });
}
