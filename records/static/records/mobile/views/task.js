// Before I start: why this exists, what to watch out for, what must be at hand, what was found last time.

import { html, useState } from "../../../vendor/mobile/preact-htm.js";
import * as clock from "../core/clock.js";
import { go, useApp } from "../core/state.js";
import { begin } from "../core/work.js";
import { unitLabel } from "../judge/quantities.js";
import { describe, limitFrom } from "../judge/limits.js";
import { unitsFor } from "../steps/reading.js";
import { day, planned } from "../ui/moments.js";
import { Caution, Empty, Facts, Field, Safety, Status, levelOf, outcomeWords } from "../ui/parts.js";
import { Frame } from "./frame.js";

export function TaskView({ id }) {
  const { bundle, runs } = useApp();
  const task = bundle?.tasks.find((each) => each.id === Number(id));
  const run = runs.find((each) => each.taskId === Number(id) && !each.isOver);
  if (!task) {
    return html`<${Frame} title="Task" back=${() => go()}><${Empty} title="This task is not on this phone">
      <p>It may be closed, or not loaded yet. Load today’s work where there is reception.</p></${Empty}></${Frame}>`;
  }
  return html`<${Before} key=${task.id} task=${task} run=${run} />`;
}

// The nearest tool that may be used, and no tool twice: two cylinders stand side by side.
function chosenTools(roles) {
  const chosen = {};
  for (const { role, tools } of roles) {
    const taken = new Set(Object.values(chosen).map((tool) => tool.id));
    const tool = tools.find((each) => each.isUsable && !taken.has(each.id));
    if (tool) chosen[role] = tool;
  }
  return chosen;
}

function Before({ task, run }) {
  const [tools, setTools] = useState(() => chosenTools(task.need?.roles ?? []));
  const [lot, setLot] = useState(() => firstLot(task.need));
  const missing = missingOf(task.need, tools, lot);
  const start = async () => {
    const made = await begin(task, tools, lot);
    go("run", made.key);
  };
  const foot = run
    ? html`<button class="button button-primary tall" onClick=${() => go("run", run.key)}>Go on with it</button>`
    : task.content && html`<button class="button button-primary tall" disabled=${missing || task.waits.length > 0 || Boolean(task.other)} onClick=${start}>${missing ? `To start: ${missing}` : "Start"}</button>`;
  return html`
    <${Frame} title=${task.title} lead=${`${task.registration} · ${task.byWhen}`} back=${() => go()} foot=${foot}>
      <p><${Status} level=${task.level} words=${task.stateWords} detail=${task.assignedTo} /></p>
      ${task.slot && html`<p>Planned ${planned(task.slot.starts, task.slot.ends, clock.now(), task.zone)}${task.slot.bay && `, ${task.slot.bay}`}</p>`}
      ${task.waits.length > 0 && html`<div class="ask"><p><strong>Waits for ${task.waits.join(", ")}.</strong> It can start when that is signed.</p></div>`}
      ${task.other && html`<div class="ask"><p><strong>${task.other.name} has this in hand.</strong> Have it handed over to you to go on with it.</p></div>`}
      <section><h2>Why</h2><ul>${task.why.map((words) => html`<li key=${words}>${words}</li>`)}</ul></section>
      ${!task.content && html`<${Empty} title="No procedure to follow"><p>This task is worked and closed on the desk’s page of the task.</p></${Empty}>`}
      ${task.content && html`<${Content} task=${task} tools=${tools} setTools=${setTools} lot=${lot} setLot=${setLot} isFixed=${Boolean(run)} />`}
      <${Safety} />
    </${Frame}>`;
}

function missingOf(need, tools, lot) {
  const role = need?.roles.find((each) => !tools[each.role]);
  if (role) return `choose ${role.name.toLowerCase()}`;
  if (!need?.fluid) return "";
  if (!lot) return "no fluid lot may be used";
  return /^[0-9]+([.][0-9]+)?$/.test(lot.amount) ? "" : "enter the fluid aboard";
}

const firstLot = (need) => {
  const lot = need?.lots.find((each) => each.isUsable);
  return lot ? { ...lot, amount: "", unit: need.fluid?.unit ?? "L" } : null;
};

function Content({ task, tools, setTools, lot, setLot, isFixed }) {
  const { procedure, content } = task;
  const minutes = procedure.minutes ? `${procedure.minutes} min` : "";
  const hands = procedure.people > 1 ? `${procedure.people} people` : "you alone";
  const people = procedure.needsCountersignature ? `${hands}; somebody else inspects and signs` : hands;
  return html`
    <p>${content.purpose}</p>
    ${content.cautions.map((words) => html`<${Caution} key=${words}><p>${words}</p></${Caution}>`)}
    <section><h2>What you need</h2>
      <${Facts} rows=${[["Time", minutes], ["People", people], ["Approved data", `${procedure.approvedReference}, revision ${procedure.approvedRevision}`],
        ["Fluid", content.fluid && `at least ${content.fluid.minimum} ${unitLabel(content.fluid.unit)} ${content.fluid.note ?? ""}`]]} />
      ${!isFixed && html`<${Tools} roles=${task.need.roles} chosen=${tools} onChoose=${(role, tool) => setTools({ ...tools, [role]: tool })} />
      ${task.need.fluid && html`<${Lots} need=${task.need} lot=${lot} onChoose=${setLot} />`}`}
    </section>
    ${task.previous.length > 0 && html`<section><h2>Last time on ${task.registration}</h2><${Previous} rows=${task.previous} points=${content.points} /></section>`}`;
}

export const Tools = ({ roles, chosen, onChoose }) => roles.map((role) => html`
  <${Field} key=${role.role} id=${`role-${role.role}`} label=${role.name}
    help=${chosen[role.role]?.words ?? (role.tools.length ? "None may be used today." : "There is none of this kind.")}>
    <select id=${`role-${role.role}`} aria-describedby=${`role-${role.role}-help`} value=${chosen[role.role]?.id ?? ""}
      onChange=${(event) => onChoose(role.role, role.tools.find((tool) => tool.id === Number(event.target.value)))}>
      <option value="" disabled selected=${!chosen[role.role]}>Choose</option>
      ${role.tools.map((tool) => html`<option key=${tool.id} value=${tool.id} disabled=${!tool.isUsable}
        selected=${tool.id === chosen[role.role]?.id}>${tool.label}, ${tool.words}</option>`)}</select></${Field}>`);

export const Lots = ({ need, lot, onChoose }) => html`
  <${Field} id="lot" label="Fluid lot" help=${lot?.words ?? "No lot may be used today."}>
    <select id="lot" aria-describedby="lot-help" onChange=${(event) => onChoose({ ...lot, ...need.lots.find((each) => each.id === Number(event.target.value)) })}>
      ${need.lots.map((each) => html`<option key=${each.id} value=${each.id} disabled=${!each.isUsable} selected=${each.id === lot?.id}>${each.label}, ${each.words}</option>`)}</select></${Field}>
  ${lot && html`<${Field} id="lot-amount" label="Fluid aboard now" help=${`At least ${need.fluid.minimum} ${unitLabel(need.fluid.unit)}.`}>
    <input id="lot-amount" inputmode="decimal" autocomplete="off" aria-describedby="lot-amount-help" value=${lot.amount}
      onInput=${(event) => onChoose({ ...lot, amount: event.target.value.replace(",", ".").trim() })} />
    <select aria-label="Unit of the fluid aboard" onChange=${(event) => onChoose({ ...lot, unit: event.target.value })}>${unitsFor(need.fluid.unit).map((unit) => html`
      <option key=${unit.code} value=${unit.code} selected=${unit.code === lot.unit}>${unit.label}</option>`)}</select></${Field}>`}`;

const Previous = ({ rows, points }) => html`
  <ul class="previous">${rows.map((row) => {
    const point = points.find((each) => each.key === row.point);
    return html`<li key=${row.point}><p><strong>${row.name}</strong> <span class="figures">${row.value} ${unitLabel(row.unit)}</span></p>
      <p><${Status} level=${levelOf(row.outcome)} words=${outcomeWords(row.outcome)} detail=${day(row.day)} /></p>
      <p class="soft">Allowed: ${point ? describe(limitFrom(point.limit)) : row.allowed}</p></li>`;
  })}</ul>`;
