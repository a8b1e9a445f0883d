// What the phone keeps: commands not yet answered, runs as worked here, photos, the last bundle, settings.
//
// A command and the run it changes are written in one transaction, so that neither can be there without the other.

import { openDB } from "../../../vendor/mobile/idb.js";

const NAME = "verglas-phone";
const STRICT = { durability: "strict" };

let database;
// What could not be written because the phone is full. It is shown, sent, and written as soon as there is room.
const held = new Map();
const listeners = new Set();

export const whenHeld = (listener) => listeners.add(listener);
export const heldCount = () => [...held.keys()].filter((name) => name.startsWith("commands:")).length;
const tell = () => listeners.forEach((listener) => listener(heldCount()));

function open() {
  database ??= openDB(NAME, 1, {
    upgrade(db) {
      db.createObjectStore("commands", { keyPath: "id" });
      db.createObjectStore("runs", { keyPath: "key" });
      db.createObjectStore("photos", { keyPath: "key" });
      db.createObjectStore("kept");
    },
    blocking() { location.reload(); },
  });
  return database;
}

const isFull = (fault) => ["QuotaExceededError", "UnknownError", "AbortError"].includes(fault?.name);

// `durability`: "strict" waits for the disk; "relaxed" is for digits not entered yet, one write a key.
export async function put(rows, durability = "strict") {
  if (!rows.length) return true;
  try {
    await write(rows, durability);
  } catch (fault) {
    if (!isFull(fault)) throw fault;
    await makeRoom();
    try {
      await write(rows, durability);
    } catch (again) {
      if (!isFull(again)) throw again;
      for (const [store, row] of rows) held.set(`${store}:${row.key ?? row.id}`, [store, row]);
      tell();
      return false;
    }
  }
  if (held.size) await writeHeld();
  return true;
}

async function write(rows, durability = "strict") {
  const db = await open();
  const names = [...new Set(rows.map(([store]) => store))];
  const transaction = db.transaction(names, "readwrite", { durability });
  transaction.done.catch(() => {});
  try {
    for (const [store, row] of rows) transaction.objectStore(store).put(row).catch(() => {});
    // At once, so that a page closed in this very moment does not take it along.
    transaction.commit();
    await transaction.done;
  } catch (fault) {
    // Half of what belongs together must not stay.
    try { transaction.abort(); } catch { /* it is over already */ }
    throw fault;
  }
  for (const [store, row] of rows) held.delete(`${store}:${row.key ?? row.id}`);
  tell();
}

export async function writeHeld() {
  const rows = [...held.values()];
  if (!rows.length) return true;
  try {
    await write(rows);
    return true;
  } catch (fault) {
    if (!isFull(fault)) throw fault;
    for (const [store, row] of rows) held.set(`${store}:${row.key ?? row.id}`, [store, row]);
    return false;
  }
}

// Room is made from what can be fetched again; nothing entered is ever thrown away for it.
async function makeRoom() {
  const db = await open();
  await db.delete("kept", "bundle-older").catch(() => {});
  const runs = await db.getAll("runs");
  for (const run of runs.filter((each) => each.isOver && !each.isMarked)) await db.delete("runs", run.key).catch(() => {});
}

export async function all(store) {
  const db = await open();
  const rows = new Map((await db.getAll(store)).map((row) => [row.key ?? row.id, row]));
  for (const [kind, row] of held.values()) if (kind === store) rows.set(row.key ?? row.id, row);
  return [...rows.values()];
}

export async function one(store, key) {
  const kept = held.get(`${store}:${key}`);
  if (kept) return kept[1];
  return (await open()).get(store, key);
}

export async function remove(store, ...keys) {
  const db = await open();
  const transaction = db.transaction(store, "readwrite", STRICT);
  for (const key of keys) {
    held.delete(`${store}:${key}`);
    transaction.store.delete(key);
  }
  await transaction.done;
  tell();
}

export async function keep(name, value) {
  try {
    await (await open()).put("kept", value, name);
    return true;
  } catch (fault) {
    if (!isFull(fault)) throw fault;
    return false;
  }
}

export const kept = async (name) => (await open()).get("kept", name);

export async function room() {
  const { usage = 0, quota = 0 } = (await navigator.storage?.estimate?.()) ?? {};
  return { usage, quota };
}

// Asks the browser not to clear what is kept here when the phone gets full.
export const askToStay = async () => (await navigator.storage?.persist?.()) ?? false;
