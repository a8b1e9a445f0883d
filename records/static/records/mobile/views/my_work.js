// What is mine today: runs in hand first, what waits for a signature, then the tasks of my shift, mine, and those free.

import { html, useState } from "../../../vendor/mobile/preact-htm.js";
import * as clock from "../core/clock.js";
import { progress } from "../core/run.js";
import { go, useApp } from "../core/state.js";
import { refreshBundle } from "../core/bundle.js";
import { ago, planned } from "../ui/moments.js";
import { Empty, Status } from "../ui/parts.js";
import { Frame, Places } from "./frame.js";

export function TaskCard({ task }) {
  const { slot } = task;
  return html`<li class="card"><p class="card-title"><a href=${`#/task/${task.id}`}>${task.registration} · ${task.title}</a></p>
    <p class="card-body">${task.byWhen}</p>
    ${slot && html`<p class="card-body">Planned ${planned(slot.starts, slot.ends, clock.now(), task.zone)}${slot.bay && `, ${slot.bay}`}</p>`}
    <p>${task.waits.length ? html`<${Status} level="soon" words=${`Waits for ${task.waits[0]}`} />`
      : html`<${Status} level=${task.level} words=${task.stateWords} detail=${task.assignedTo} />`}</p></li>`;
}

function RunCard({ run }) {
  const { done, asked } = progress(run);
  const words = run.state === "finished" ? "Finished, to be signed" : run.state === "paused" ? "Paused" : `In work, ${done} of ${asked} steps`;
  return html`<li class="card"><p class="card-title"><a href=${`#/run/${run.key}`}>${run.registration} · ${run.title}</a></p>
    <p><${Status} level="soon" words=${words} detail=${run.procedure.approvedReference} /></p></li>`;
}

function waitsFor({ meaning, isMine, performer }) {
  if (meaning === "performed") return isMine ? ["soon", "Yours to sign"] : ["clear", `${performer} signs first`];
  return isMine ? ["soon", "Yours to inspect and sign"] : ["clear", "Somebody else inspects and signs"];
}

function SignCard({ row }) {
  const [level, words] = waitsFor(row);
  return html`<li class="card"><p class="card-title"><a href=${`#/sign/${row.run}`}>${row.registration} · ${row.title}</a></p>
    <p class="card-body">done by ${row.performer}</p><p><${Status} level=${level} words=${words} /></p></li>`;
}

const isInShift = ({ slot }, shift) => Boolean(slot?.isMine && shift && slot.starts < shift.ends && slot.ends > shift.starts);

const GROUPS = [
  ["shift", "My shift", (task, person, shift) => isInShift(task, shift)],
  ["mine", "Given to me", (task, person) => task.assignedId === person?.id],
  ["base", "Free at my base", (task) => task.assignedId === null],
];

const bySlot = (a, b) => (a.slot?.starts ?? Infinity) - (b.slot?.starts ?? Infinity) || 0;

function Tasks({ tasks, bundle, person }) {
  const [group, setGroup] = useState(null);
  const shift = bundle?.shift;
  const groups = GROUPS.map(([key, label, fits]) => ({ key, label, tasks: tasks.filter((task) => fits(task, person, shift)) }));
  const chosen = groups.find(({ key }) => key === group) ?? groups.find((each) => each.tasks.length) ?? groups[0];
  const shown = chosen.key === "shift" ? [...chosen.tasks].sort(bySlot) : chosen.tasks;
  return html`
    <div class="groups" role="group" aria-label="Which tasks">${groups.map(({ key, label, tasks: some }) => html`
      <button key=${key} class="button" aria-pressed=${key === chosen.key} onClick=${() => setGroup(key)}>${label} <span class="count">${some.length}</span></button>`)}</div>
    ${chosen.key === "shift" && shift && html`<p class="soft">Shift ${planned(shift.starts, shift.ends, clock.now(), shift.zone)} at ${shift.base}</p>`}
    ${shown.length > 0
      ? html`<ul class="cards">${shown.map((task) => html`<${TaskCard} key=${task.id} task=${task} />`)}</ul>`
      : html`<${Empty} title="No open task here"><p>${emptyWords(bundle, chosen.key)}</p></${Empty}>`}`;
}

function emptyWords(bundle, key) {
  if (!bundle) return "Load today’s work where there is reception.";
  if (key !== "shift") return "Nothing else is open.";
  return bundle.shift ? "The published plan gives you nothing in your next shift." : "No shift of yours is planned.";
}

export function MyWork() {
  const { bundle, bundleAt, runs, person } = useApp();
  const toSign = bundle?.toSign ?? [];
  const isListed = new Set(toSign.map((row) => row.key));
  const mine = runs.filter((run) => !run.isOver && (!person || run.performer?.id === person.id));
  const inHand = new Set(mine.map((run) => run.taskId));
  const working = mine.filter((run) => !(run.state === "finished" && isListed.has(run.key)));
  const tasks = (bundle?.tasks ?? []).filter((task) => !inHand.has(task.id));
  const lead = bundleAt ? `As of ${ago(bundleAt, clock.now())}` : "Nothing loaded yet";
  return html`
    <${Frame} title="My work" lead=${lead} foot=${html`<${Places} />`}>
      ${working.length > 0 && html`<h2>In hand</h2><ul class="cards">${working.map((run) => html`<${RunCard} key=${run.key} run=${run} />`)}</ul>`}
      ${toSign.length > 0 && html`<h2>Waits for signatures</h2><ul class="cards">${toSign.map((row) => html`<${SignCard} key=${row.run} row=${row} />`)}</ul>`}
      <${Tasks} tasks=${tasks} bundle=${bundle} person=${person} />
      <div class="acts"><button class="button" onClick=${refreshBundle}>Load today’s work again</button>
        <button class="button" onClick=${() => go("scan")}>Scan a label</button></div>
    </${Frame}>`;
}
