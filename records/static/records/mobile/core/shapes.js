// From the wire into what the views draw, and back. Everything that knows the server's field names is here.

import { fractionOf, shownText } from "../judge/exact.js";
import * as clock from "./clock.js";

const STATE_WORDS = {
  raised: "To do", planned: "Planned", in_work: "In work", awaiting_signature: "Awaiting signature",
};
const LEVELS = { next_flight: "stop", next_icing_flight: "soon" };

export function bundleFrom(json) {
  const aircraft = new Map(json.aircraft.map((each) => [each.registration, each]));
  return {
    madeAt: json.made_at,
    shift: json.shift && { starts: Date.parse(json.shift.starts_at), ends: Date.parse(json.shift.ends_at), base: json.shift.base_name, zone: json.shift.zone },
    toSign: (json.to_sign ?? []).map((each) => ({
      run: each.run, key: each.key, registration: each.aircraft, title: each.title, performer: each.performer,
      meaning: each.meaning, isMine: each.is_mine, verdict: each.verdict,
    })),
    tasks: json.tasks.map((piece) => taskFrom(piece, aircraft.get(piece.task.aircraft), json)),
    aircraft: json.aircraft.map((each) => ({ ...each, words: `${each.type_name}, ${each.base_name}` })),
    colleagues: json.people,
    eventKinds: json.event_kinds,
  };
}

function taskFrom({ task, procedure, run, previous, slot }, aircraft, json) {
  const content = procedure ? procedure.content : null;
  const other = run && run.performer_id !== json.person.id ? { id: run.performer_id, name: run.performer } : null;
  return {
    id: task.id, registration: task.aircraft, title: task.title, byWhen: task.by_when, state: task.state,
    stateWords: STATE_WORDS[task.state] ?? task.state, level: LEVELS[task.before] ?? "clear", base: task.base,
    assignedTo: task.assigned_to?.name ?? "", assignedId: task.assigned_to?.id ?? null,
    slot: slot && { starts: Date.parse(slot.starts_at), ends: Date.parse(slot.ends_at), bay: slot.bay, isMine: slot.is_mine },
    why: task.why.map((each) => each.words), waits: task.waits_for.map((each) => each.title),
    procedure: procedure && {
      code: procedure.code, title: procedure.title, version: procedure.version, minutes: procedure.minutes,
      approvedReference: procedure.approved_reference, approvedRevision: procedure.approved_revision,
      people: procedure.people, needsCountersignature: procedure.needs_countersignature,
    },
    content, other, run, zone: aircraft?.zone ?? "UTC",
    outlets: content ? outletsFrom(content, aircraft) : {},
    need: content ? needFrom(content, json, task.base) : null,
    previous: (previous?.readings ?? []).filter((row) => row.value).map((row) => ({
      point: row.point, name: row.name, value: shownText(fractionOf(row.value)), unit: row.unit,
      outcome: row.verdict, day: previous.completed_on, allowed: row.allowed,
    })),
  };
}

function outletsFrom(content, aircraft) {
  const places = (aircraft?.positions ?? []).filter((each) => each.is_outlet);
  const inOrder = [...places].sort((a, b) => a.order - b.order || a.code.localeCompare(b.code));
  const steps = content.steps.filter((step) => step.kind === "outlets");
  return Object.fromEntries(steps.map((step) => [step.key, inOrder
    .filter((each) => step.zones.includes(each.zone))
    .map(({ code, name, zone, side, map_x: x, map_y: y }) => ({ code, name, zone, side, x, y }))]));
}

const nearFirst = (base) => (a, b) => Number(b.is_usable) - Number(a.is_usable) || Number(b.base === base) - Number(a.base === base);

function needFrom(content, json, base) {
  const roles = (content.equipment ?? []).map(({ role, name, kind }) => ({
    role, name,
    tools: json.equipment.filter((each) => each.kind === kind).sort(nearFirst(base))
      .map((each) => ({ id: each.id, label: `${each.name} (${each.code})`, isUsable: each.is_usable, words: each.words })),
  }));
  const lots = [...json.lots].sort(nearFirst(base)).map(lotFrom);
  return { roles, fluid: content.fluid ?? null, lots: content.fluid ? lots : [] };
}

const lotFrom = (each) => ({
  id: each.id, label: `${each.specification}, batch ${each.batch}`, isUsable: each.is_usable, words: each.words,
  density: each.densities.map((row) => [row.celsius, row.grams_per_ml]),
});

// A run as the server has it, with the text of its task.
export function runFrom(json, task) {
  const lotUse = json.lots.at(-1);
  const lot = lotUse && { ...(task.need.lots.find((each) => each.id === lotUse.lot) ?? {}), id: lotUse.lot, amount: lotUse.amount, unit: lotUse.unit };
  return {
    key: json.key, taskId: json.task, ...fromServer(json), title: json.title, registration: json.aircraft,
    procedure: task.procedure, content: task.content, outlets: task.outlets, need: task.need, previous: task.previous,
    zone: task.zone, isVerified: true, drafts: {}, timers: {}, acks: {}, lot: lot ?? null,
    uses: Object.fromEntries(json.equipment.map((use) => [use.role, { id: use.equipment, label: `${use.name} (${use.code})`, words: "" }])),
  };
}

export const fromServer = (json) => ({
  serverId: json.id, number: json.number, state: json.state, started_at: json.started_at,
  performer: { id: json.performer_id, name: json.performer },
  answers: [...json.answers].sort((a, b) => a.id - b.id).map((each, at) => ({
    id: each.key, number: at + 1, step: each.step, answer: each.answer, at: each.captured_at, repeat: each.repeat_reason,
  })),
  verdict: json.verdict ? { outcome: json.verdict, reason: json.verdict_detail?.reason ?? "" } : null,
  signatures: json.signatures, needsCountersignature: json.needs_countersignature, record: json.record,
  abandonedReason: json.abandoned_reason, isOver: ["signed", "abandoned"].includes(json.state),
});

// ---- to the server

export async function sending(device, batch, photos) {
  const commands = [];
  for (const each of batch) commands.push(await commandTo(each, photos.get(each.id)));
  return { device, sent_at: clock.iso(clock.now()), commands };
}

async function commandTo(each, photo) {
  const body = { ...each.body };
  if (each.run && each.kind !== "open_run") body.opening = each.run;
  if (photo) body[each.kind === "photo" ? "content" : "photo"] = await base64(photo.blob);
  return { id: each.id, kind: each.kind, captured_at: clock.iso(each.at), body };
}

async function base64(blob) {
  const bytes = new Uint8Array(await blob.arrayBuffer());
  let text = "";
  for (let at = 0; at < bytes.length; at += 0x8000) text += String.fromCharCode(...bytes.subarray(at, at + 0x8000));
  return btoa(text);
}

export const answersOf = (json) => new Map(json.results.map((each) => [each.id, {
  status: each.outcome, words: each.words, code: each.code, reasons: each.reasons, result: each.body,
}]));
