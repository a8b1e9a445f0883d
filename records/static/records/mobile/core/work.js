// What a technician does on the phone. Every act changes the run kept here and adds its command, together.

import * as clock from "./clock.js";
import { missingProvisions } from "./run.js";
import { change, current } from "./state.js";
import * as outbox from "./outbox.js";
import * as store from "./store.js";

export async function readRuns() {
  change({ runs: await store.all("runs") });
}

// The clock is confirmed: the moments of runs stamped before that are moved by what it was off.
export async function settleRuns(shift) {
  const moved = new Map(current().runs.filter((each) => each.isVerified === false)
    .map((run) => [run.key, { ...clock.moveMoments(run, shift), isVerified: true }]));
  if (!moved.size) return;
  change({ runs: current().runs.map((run) => moved.get(run.key) ?? run) });
  await store.put([...moved.values()].map((run) => ["runs", run]));
}

async function saveRun(run, commands = [], more = [], durability = "strict") {
  const runs = [...current().runs.filter((each) => each.key !== run.key), run];
  change({ runs });
  const rows = [["runs", run], ...more];
  if (commands.length) await outbox.add(commands, rows);
  else await store.put(rows, durability);
  return run;
}

export const runOf = (key) => current().runs.find((each) => each.key === key);

// What is kept beside a run without telling the server: drafts, timers, cautions read.
export const note = (run, difference) => saveRun({ ...run, ...difference });
export const draft = (run, step, value) =>
  saveRun({ ...run, drafts: { ...run.drafts, [step]: value } }, [], [], "relaxed");
export const time = (run, step, value) => {
  const { isVerified } = clock.stamp();
  return note(run, { timers: { ...run.timers, [step]: value }, isVerified });
};

const inRun = (run, kind, body, more = {}) =>
  outbox.command(kind, body, { run: run.key, about: run.title, ...more });

// A run is known by the command that opened it, here and on the server.
function newRun(task, uses, lot, opening) {
  const { person } = current();
  return {
    key: opening.id, taskId: task.id, serverId: null, number: null, state: "open",
    title: task.title, registration: task.registration, procedure: task.procedure, content: task.content,
    outlets: task.outlets, need: task.need, previous: task.previous, zone: task.zone, started_at: clock.iso(opening.at), isVerified: opening.isVerified,
    performer: person && { id: person.id, name: person.name }, answers: [], drafts: {}, timers: {}, acks: {},
    uses, lot, verdict: null, isOver: false,
  };
}

const usesOf = (run) => Object.entries(run.uses).map(([role, tool]) =>
  inRun(run, "use_equipment", { role, equipment: tool.id }));
const lotOf = (run) => (run.lot
  ? [inRun(run, "use_lot", { lot: run.lot.id, amount: run.lot.amount, unit: run.lot.unit })]
  : []);

function openingOf(task) {
  const body = { task: task.id, procedure_version: task.procedure.version };
  const opening = outbox.command("open_run", body, { about: task.title, label: task.registration });
  return { ...opening, run: opening.id };
}

export async function begin(task, uses, lot) {
  const opening = openingOf(task);
  const run = newRun(task, uses, lot, opening);
  await saveRun(run, [opening, ...usesOf(run), ...lotOf(run)]);
  return run;
}

export const useTool = (run, role, tool) => {
  const changed = { ...run, uses: { ...run.uses, [role]: tool } };
  return saveRun(changed, [inRun(run, "use_equipment", { role, equipment: tool.id })]);
};

export const useLot = (run, lot) => {
  const changed = { ...run, lot };
  return saveRun(changed, lotOf(changed));
};

// `repeat` is the reason of a second answer; both are kept.
export async function answer(run, step, value, repeat = "", more = {}) {
  const { at, isVerified } = clock.stamp();
  const commands = [...(more.commands ?? [])];
  const entered = inRun(run, "answer", { step: step.key, answer: value, repeat_reason: repeat });
  commands.push({ ...entered, at, isVerified, words: "", step: step.key, label: step.title });
  const number = run.answers.reduce((most, each) => Math.max(most, each.number), 0) + 1;
  const kept = { id: entered.id, number, step: step.key, answer: value, at: clock.iso(at), repeat };
  const { [step.key]: _, ...drafts } = run.drafts;
  const { [step.key]: __, ...timers } = run.timers;
  const changed = { ...run, answers: [...run.answers, kept], drafts, timers, isVerified: run.isVerified && isVerified };
  return saveRun(changed, commands, more.rows);
}

export async function photograph(run, step, blob, repeat = "") {
  const sending = inRun(run, "photo", { step: step.key }, { hasPhoto: true, label: step.title });
  const photo = { key: sending.id, blob, run: run.key };
  return answer(run, step, { photo_key: sending.id }, repeat, { commands: [sending], rows: [["photos", photo]] });
}

export const pause = (run) => saveRun({ ...run, state: "paused" }, [inRun(run, "pause", {})]);
export const resume = (run) => saveRun({ ...run, state: "open" }, [inRun(run, "resume", {})]);

export const handOver = (run, colleague, words) =>
  saveRun({ ...run, performer: { id: colleague.id, name: colleague.name } },
    [inRun(run, "hand_over", { to: colleague.id, note: words })]);

export const abandon = (run, reason) =>
  saveRun({ ...run, state: "abandoned", isOver: true, abandonedReason: reason }, [inRun(run, "abandon", { reason })]);

export function finish(run) {
  if (missingProvisions(run).length) return run;
  const { at } = clock.stamp();
  return saveRun({ ...run, state: "finished", finished_at: clock.iso(at) }, [inRun(run, "finish", {})]);
}

export async function report(body, about, blob) {
  const sending = outbox.command("report_event", body, { about, hasPhoto: Boolean(blob) });
  await outbox.add([sending], blob ? [["photos", { key: sending.id, blob, run: "" }]] : []);
}

// ---- ways out of what the server did not take

const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);

// The work goes on under the new text: answers to steps that read the same are carried over with their own times.
export async function carryOver(old, task) {
  const opening = { ...openingOf(task), at: Date.parse(old.started_at) };
  const run = { ...newRun(task, old.uses, old.lot, opening), acks: old.acks, carriedFrom: old.key };
  const commands = [opening, ...usesOf(run), ...lotOf(run)];
  const unbroken = [];
  for (const step of task.content.steps) {
    const before = old.content.steps.find((each) => each.key === step.key);
    const mine = old.answers.filter((each) => each.step === step.key);
    if (!before || !same(before, step) || (!mine.length && step.kind !== "note")) break;
    unbroken.push(...mine);
  }
  unbroken.sort((a, b) => a.number - b.number);
  for (const each of unbroken) {
    const sent = inRun(run, "answer", { step: each.step, answer: each.answer, repeat_reason: each.repeat });
    commands.push({ ...sent, at: Date.parse(each.at), step: each.step });
    run.answers.push({ ...each, id: sent.id });
  }
  await setAsideRun(old);
  await saveRun(run, commands);
  return run;
}

// Everything of a run that was not taken is set aside: readable, never sent by itself.
export async function setAsideRun(run) {
  const mine = current().commands.filter((each) => each.run === run.key);
  await store.put([
    ["runs", { ...run, isOver: true, isAside: true }],
    ...mine.map((each) => ["commands", { ...each, state: "aside" }]),
  ]);
  await readRuns();
  await outbox.refresh();
}

// The readings go into the run that is in hand on the server, as further readings with their reason.
export async function joinRun(mine, theirs, reason) {
  const joined = { ...theirs, drafts: {}, timers: {}, acks: mine.acks };
  const commands = [];
  for (const each of mine.answers) {
    const repeat = joined.answers.some((other) => other.step === each.step) ? (each.repeat || reason) : each.repeat;
    const sent = inRun(joined, "answer", { step: each.step, answer: each.answer, repeat_reason: repeat });
    const number = joined.answers.reduce((most, other) => Math.max(most, other.number), 0) + 1;
    commands.push({ ...sent, at: Date.parse(each.at), step: each.step });
    joined.answers = [...joined.answers, { ...each, id: sent.id, number, repeat }];
  }
  await setAsideRun(mine);
  return saveRun(joined, commands);
}

// An answer the server did not take, and what was entered after it at the same step, make room for a new one.
export async function takeBack(run, command) {
  const answers = run.answers.filter((each) => each.id !== command.id);
  const drafts = { ...run.drafts };
  const { answer: old } = command.body;
  if (old && "value" in old) drafts[command.body.step] = { value: old.value, unit: old.unit };
  await store.put([["commands", { ...command, state: "aside" }], ["runs", { ...run, answers, drafts }]]);
  await readRuns();
  await outbox.refresh();
}
