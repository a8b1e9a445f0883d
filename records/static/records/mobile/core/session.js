// Who works on this phone. Known also without reception, from the last time.

import * as clock from "./clock.js";
import * as outbox from "./outbox.js";
import { change, current } from "./state.js";
import * as store from "./store.js";

export async function device() {
  const known = await store.kept("device");
  if (known) return known;
  const made = `phone-${crypto.randomUUID().slice(0, 13)}`;
  await store.keep("device", made);
  return made;
}

// A session told by the server; a different person gets their own bundle, and keeps nobody else's.
export async function arrive(session) {
  clock.learn(session.server_time, session.sent, session.came);
  if (!session.person) return;
  const before = current().person;
  if (before?.id !== session.person.id) {
    await store.keep("bundle", undefined);
    change({ bundle: null, bundleAt: 0 });
  }
  await store.keep("person", session.person);
  change({ person: session.person, reach: "online" });
  outbox.become(await device(), session.person);
}

export async function recall() {
  const person = (await store.kept("person")) ?? null;
  change({ person });
  outbox.become(await device(), person);
}
