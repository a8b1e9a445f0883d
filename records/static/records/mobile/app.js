// The phone's program: starts from what is kept here, then asks the server.

import { html, render, useEffect } from "../../vendor/mobile/preact-htm.js";
import { hear, readBundle, refreshBundle } from "./core/bundle.js";
import * as clock from "./core/clock.js";
import * as outbox from "./core/outbox.js";
import { arrive, recall } from "./core/session.js";
import { applySettings } from "./core/settings.js";
import { arriveAt, change, current, say, useApp } from "./core/state.js";
import { getReady } from "./core/sound.js";
import * as store from "./core/store.js";
import * as wire from "./core/wire.js";
import { readRuns, settleRuns } from "./core/work.js";
import { RunningClocks } from "./ui/running.js";
import { AircraftView, ComponentView } from "./views/aircraft.js";
import { FindView } from "./views/find.js";
import { MyWork } from "./views/my_work.js";
import { OutboxView } from "./views/outbox.js";
import { ReportView } from "./views/report.js";
import { RunView } from "./views/run.js";
import { ScanView } from "./views/scan.js";
import { SettingsView } from "./views/settings.js";
import { SignInSheet } from "./views/sign_in.js";
import { SignView } from "./views/sign.js";
import { TaskView } from "./views/task.js";

const LOOK_AGAIN = 5 * 60_000;

function Place() {
  const { route } = useApp();
  const [place = "", id, part, step] = route;
  switch (place) {
    case "task": return html`<${TaskView} id=${id} />`;
    case "run": return html`<${RunView} id=${id} part=${part} step=${step} />`;
    case "sign": return html`<${SignView} key=${id} id=${id} />`;
    case "outbox": return html`<${OutboxView} />`;
    case "find": return html`<${FindView} />`;
    case "scan": return html`<${ScanView} />`;
    case "aircraft": return html`<${AircraftView} id=${id} />`;
    case "component": return html`<${ComponentView} id=${id} />`;
    case "report": return html`<${ReportView} key=${id} registration=${id} />`;
    case "settings": return html`<${SettingsView} />`;
    default: return html`<${MyWork} />`;
  }
}

function App() {
  useEffect(() => {
    document.documentElement.dataset.ready = "yes";
    performance.mark("ready");
  }, []);
  return html`<${Place} /><${RunningClocks} />
    <${SignInSheet} />`;
}

async function begin() {
  arriveAt(location.hash);
  window.addEventListener("hashchange", () => arriveAt(location.hash));
  listen();
  const [settings, correction] = await Promise.all([store.kept("settings"), store.kept("correction")]);
  applySettings({ ...current().settings, ...settings });
  clock.begin(correction);
  await recall();
  await Promise.all([readBundle(), readRuns(), outbox.list().then((commands) => change({ commands }))]);
  render(html`<${App} />`, document.getElementById("app"));
  document.getElementById("starting")?.remove();
  change({ ready: true });
  store.askToStay();
  await meet();
  setInterval(() => { if (document.visibilityState === "visible") refreshBundle(); }, LOOK_AGAIN);
}

// The first word with the server: who is signed in, what time it is, what is new.
async function meet() {
  try {
    const session = await wire.session();
    await arrive(session);
    if (!session.person) return change({ reach: "signed_out", signInAsked: true });
    await refreshBundle();
  } catch (fault) {
    if (!(fault instanceof wire.Unanswered)) throw fault;
    change({ reach: fault.kind });
    outbox.soon(5_000);
  }
  return undefined;
}

// Once is enough: whoever goes on without signing in is not stopped again at every entry.
let wasAsked = false;

function askOnce(hasWaiting) {
  if (wasAsked || !hasWaiting) return;
  wasAsked = true;
  change({ signInAsked: true });
}

function listen() {
  outbox.whenChanged(({ commands, reach, words, moved }) => {
    const before = current().commands.length;
    change({ commands, ...(reach ? { reach } : {}), ...(moved ? { moved: current().moved + moved } : {}), reachWords: words ?? current().reachWords });
    if (before && !commands.length) say("All sent.");
    if (reach === "signed_out") askOnce(commands.some((each) => each.state === "waiting"));
    if (reach === "online") wasAsked = false;
  });
  outbox.whenAnswered(hear);
  outbox.whenSettled(settleRuns);
  store.whenHeld((held) => { if (held !== current().held) change({ held }); });
  window.addEventListener("pointerdown", getReady);
  window.addEventListener("online", () => { if (current().ready) outbox.reconnected(); });
  window.addEventListener("offline", () => change({ reach: "offline" }));
  document.addEventListener("visibilitychange", () => { if (document.visibilityState === "visible" && current().ready) outbox.soon(0); });
  window.addEventListener("beforeunload", (event) => { if (current().held) event.preventDefault(); });
}

async function install() {
  if (!("serviceWorker" in navigator)) return;
  const registration = await navigator.serviceWorker.register("/mobile/sw.js", { scope: "/mobile/", updateViaCache: "none" });
  const offer = (worker) => {
    if (!worker || !navigator.serviceWorker.controller) return;
    change({ update: () => worker.postMessage("start") });
  };
  offer(registration.waiting);
  registration.addEventListener("updatefound", () => {
    const worker = registration.installing;
    worker.addEventListener("statechange", () => { if (worker.state === "installed") offer(worker); });
  });
  let isStarting = false;
  navigator.serviceWorker.addEventListener("controllerchange", () => {
    if (isStarting || !current().update) return;
    isStarting = true;
    location.reload();
  });
}

begin();
install().catch((fault) => console.error("The program could not be kept for use without reception.", fault));
