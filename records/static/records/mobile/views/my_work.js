// What is mine today: runs in hand first, then tasks given to me, then those of my base that are free.

import { html, useEffect, useState } from "../../../vendor/mobile/preact-htm.js";
import * as clock from "../core/clock.js";
import { progress } from "../core/run.js";
import { go, useApp } from "../core/state.js";
import { refreshBundle } from "../core/bundle.js";
import { ago } from "../ui/moments.js";
import { Empty, Status } from "../ui/parts.js";
import * as wire from "../core/wire.js";
import { Frame, Places } from "./frame.js";

export function TaskCard({ task }) {
  const waits = task.waits.length;
  return html`<li class="card"><p class="card-title"><a href=${`#/task/${task.id}`}>${task.registration} · ${task.title}</a></p>
    <p class="card-body">${task.byWhen}</p>
    <p>${waits ? html`<${Status} level="soon" words=${`Waits for ${task.waits[0]}`} />`
      : html`<${Status} level=${task.level} words=${task.stateWords} detail=${task.assignedTo} />`}</p></li>`;
}

function RunCard({ run }) {
  const { done, asked } = progress(run);
  const words = run.state === "finished" ? "Finished, to be signed" : run.state === "paused" ? "Paused" : `In work, ${done} of ${asked} steps`;
  return html`<li class="card"><p class="card-title"><a href=${`#/run/${run.key}`}>${run.registration} · ${run.title}</a></p>
    <p><${Status} level="soon" words=${words} detail=${run.procedure.approvedReference} /></p></li>`;
}

// Finished work that waits for a second signature: asked for where there is reception, because signing needs it too.
function ToInspect() {
  const { person, reach, bundleAt } = useApp();
  const [rows, setRows] = useState([]);
  const mayInspect = person?.may?.includes("inspect");
  useEffect(() => {
    if (!mayInspect || reach !== "online") return;
    wire.get("/api/v1/runs/?state=finished").then((page) => setRows(page.results), () => setRows([]));
  }, [mayInspect, reach, bundleAt]);
  const others = rows.filter((row) => row.performer_id !== person?.id);
  if (!others.length) return null;
  return html`<h2>To inspect and sign</h2><ul class="cards">${others.map((row) => html`
    <li class="card" key=${row.id}><p class="card-title"><a href=${`#/sign/${row.id}`}>${row.aircraft} · ${row.title}</a></p>
      <p class="card-body">done by ${row.performer}</p></li>`)}</ul>`;
}

const GROUPS = [
  ["mine", "Given to me", (task, person) => task.assignedId === person?.id],
  ["base", "Free at my base", (task, person) => task.assignedId === null && task.base === person?.base],
  ["all", "Everything open", () => true],
];

export function MyWork() {
  const { bundle, bundleAt, runs, person } = useApp();
  const [group, setGroup] = useState(null);
  const mine = runs.filter((run) => !run.isOver && (!person || run.performer?.id === person.id));
  const inHand = new Set(mine.map((run) => run.taskId));
  const tasks = (bundle?.tasks ?? []).filter((task) => !inHand.has(task.id));
  const counts = Object.fromEntries(GROUPS.map(([key, , fits]) => [key, tasks.filter((task) => fits(task, person)).length]));
  const chosen = group ?? (counts.mine ? "mine" : counts.base ? "base" : "all");
  const shown = tasks.filter((task) => GROUPS.find(([key]) => key === chosen)[2](task, person));
  const lead = bundleAt ? `As of ${ago(bundleAt, clock.now())}` : "Nothing loaded yet";
  return html`
    <${Frame} title="My work" lead=${lead} foot=${html`<${Places} />`}>
      ${mine.length > 0 && html`<h2>In hand</h2><ul class="cards">${mine.map((run) => html`<${RunCard} key=${run.key} run=${run} />`)}</ul>`}
      <${ToInspect} />
      <div class="groups" role="group" aria-label="Which tasks">${GROUPS.map(([key, label]) => html`
        <button key=${key} class="button" aria-pressed=${key === chosen} onClick=${() => setGroup(key)}>${label} <span class="count">${counts[key]}</span></button>`)}</div>
      ${shown.length > 0
        ? html`<ul class="cards">${shown.map((task) => html`<${TaskCard} key=${task.id} task=${task} />`)}</ul>`
        : html`<${Empty} title="No open task here"><p>${bundle ? "Nothing else is open." : "Load today’s work where there is reception."}</p></${Empty}>`}
      <div class="acts"><button class="button" onClick=${refreshBundle}>Load today’s work again</button>
        <button class="button" onClick=${() => go("scan")}>Scan a label</button></div>
    </${Frame}>`;
}
