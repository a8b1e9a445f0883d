// Commands on their way to the server. Each has its own id and captured time, is sent until it is answered, and
// is never thrown away by the phone: what the server does not take stays here, in words, with a way out.

import * as clock from "./clock.js";
import * as store from "./store.js";
import * as wire from "./wire.js";
import { answersOf, sending } from "./shapes.js";

const BATCH = 40;
// Somebody is sending just now: what was added meanwhile may not be with it, so it is looked at once more.
const BUSY = 1_000;
const RETRY = [5_000, 15_000, 30_000, 60_000];

let order = 0;
let attempts = 0;
let timer;
let settings = { deviceId: "", person: null };
const listeners = new Set();
const arrivals = new Set();
const settlers = new Set();

export const whenChanged = (listener) => listeners.add(listener);
export const whenAnswered = (listener) => arrivals.add(listener);
export const whenSettled = (listener) => settlers.add(listener);

// The device and who is signed in: each person's commands are sent in their own name only.
export const become = (device, person) => { settings = { deviceId: device, person }; };

async function tell(state = {}) {
  const commands = await list();
  listeners.forEach((listener) => listener({ commands, ...state }));
}

export async function list() {
  const rows = await store.all("commands");
  // Also where the phone's clock was put back since: a later command stands behind every earlier one.
  order = rows.reduce((most, each) => Math.max(most, each.order), order);
  return rows.sort((a, b) => a.order - b.order);
}

export function command(kind, body, more = {}) {
  const { at, isVerified } = clock.stamp();
  order = Math.max(order + 1, Date.now());
  return {
    id: crypto.randomUUID(), order, kind, body, at, isVerified, state: "waiting", words: "",
    person: settings.person?.id ?? null, personName: settings.person?.name ?? "", run: "", ...more,
  };
}

// Keeps commands together with the rows they go with, then tries to send.
export async function add(commands, rows = []) {
  const isKept = await store.put([...commands.map((each) => ["commands", each]), ...rows]);
  await tell();
  soon(0);
  return isKept;
}

export function soon(delay = 0) {
  clearTimeout(timer);
  timer = setTimeout(() => send(), delay);
}

export async function send() {
  const locks = navigator.locks;
  if (!locks) return sendAll();
  return locks.request("verglas-outbox", { ifAvailable: true }, (lock) => (lock ? sendAll() : soon(BUSY)));
}

// Reception is back: what was tried in vain before says nothing about now.
export function reconnected() {
  attempts = 0;
  return send();
}

async function sendAll() {
  try {
    const session = await wire.session();
    clock.learn(session.server_time, session.sent, session.came);
    await settle(clock.takeShift());
    await store.keep("correction", clock.currentCorrection());
    if (!session.person) return await tell({ reach: "signed_out" });
    settings.person = session.person;
    await store.writeHeld();
    while (await sendBatch()) attempts = 0;
    attempts = 0;
    return await tell({ reach: "online", session });
  } catch (fault) {
    if (!(fault instanceof wire.Unanswered)) throw fault;
    const reach = fault.kind === "signed_out" ? "signed_out" : "offline";
    if (reach === "offline") {
      soon(RETRY[Math.min(attempts, RETRY.length - 1)]);
      attempts += 1;
    }
    return tell({ reach, words: fault.kind === "refused" ? fault.words : "" });
  }
}

// What was stamped by a clock nobody had confirmed is moved by what the clock turned out to be off.
async function settle(shift) {
  const unsure = (await list()).filter((each) => !each.isVerified);
  const rows = unsure.map((each) => ["commands", {
    ...each, at: each.at + shift, body: clock.moveMoments(each.body, shift), isVerified: true,
  }]);
  if (rows.length) await store.put(rows);
  for (const listener of settlers) await listener(shift);
  if (shift) await tell({ moved: shift });
}

const isMine = (each) => each.person === null || each.person === settings.person.id;

// What may be sent now: in order, and nothing of a run whose earlier command needs a decision.
export function sendable(commands) {
  const stuck = new Set(commands.filter((each) => each.state === "asks" && each.run).map((each) => each.run));
  return commands.filter((each) => each.state === "waiting" && isMine(each) && !(each.run && stuck.has(each.run)));
}

// At most one photo at a time, so that a weak connection gets something through.
async function sendBatch() {
  const ready = sendable(await list());
  if (!ready.length) return false;
  const photoAt = ready.findIndex((each) => each.hasPhoto);
  const batch = ready.slice(0, photoAt < 0 ? BATCH : Math.min(photoAt + 1, BATCH));
  const photos = new Map();
  for (const each of batch.filter((command) => command.hasPhoto)) {
    const photo = await store.one("photos", each.id);
    if (photo) photos.set(each.id, photo);
  }
  const answer = await wire.post("/api/v1/sync/", await sending(settings.deviceId, batch, photos));
  await take(batch, answersOf(answer));
  return true;
}

async function take(batch, answers) {
  const stuck = new Set();
  const done = [];
  const rows = [];
  for (const each of batch) {
    const answer = answers.get(each.id);
    if (!answer) continue;
    if (["applied", "repeated"].includes(answer.status)) {
      done.push(each);
    } else if (!(each.run && stuck.has(each.run))) {
      rows.push(["commands", { ...each, state: "asks", status: answer.status, words: answer.words, code: answer.code, reasons: answer.reasons }]);
      if (each.run) stuck.add(each.run);
    }
  }
  for (const each of batch) {
    const answer = answers.get(each.id);
    if (answer) for (const listener of arrivals) await listener(each, answer);
  }
  if (rows.length) await store.put(rows);
  if (done.length) await store.remove("commands", ...done.map((each) => each.id));
  const photos = done.filter((each) => each.hasPhoto).map((each) => each.id);
  if (photos.length) await store.remove("photos", ...photos);
  await tell();
}

// ---- ways out

export async function change(id, difference) {
  const found = await store.one("commands", id);
  if (!found) return;
  await store.put([["commands", { ...found, ...difference }]]);
  await tell();
}

export const tryAgain = async (id) => {
  await change(id, { state: "waiting", words: "", code: "" });
  soon(0);
};

export const setAside = (id) => change(id, { state: "aside" });

// What was set aside can be taken up again; forgetting is for the person, never for the phone.
export async function forget(id) {
  await store.remove("commands", id);
  await tell();
}

export const refresh = tell;
