// What can be done with a whole run: put it aside, pass it on, give it up, change what it is done with.

import { html, useState } from "../../../vendor/mobile/preact-htm.js";
import * as work from "../core/work.js";
import { go, useApp } from "../core/state.js";
import { isWorkable } from "../core/run.js";
import { Field, Status, Why } from "../ui/parts.js";
import { Lots, Tools } from "./task.js";

export function WhoHasIt({ run }) {
  const { person } = useApp();
  if (run.isAside) return html`<div class="ask"><p><strong>Set aside.</strong> What was entered here is kept for reading and was not taken by the server.</p></div>`;
  if (run.state === "paused" && run.performer?.id === person?.id) {
    return html`<div class="ask"><p><strong>Paused.</strong> Nothing is lost.</p>
      <div class="acts"><button class="button button-primary tall" onClick=${() => work.resume(run)}>Go on with it</button></div></div>`;
  }
  if (run.state === "abandoned") return html`<p><${Status} level="soon" words="Given up" detail=${run.abandonedReason} /></p>`;
  if (run.state === "signed") return html`<p><${Status} level="clear" words="Signed and sealed" /></p>`;
  if (run.performer && person && run.performer.id !== person.id && !run.isOver) {
    return html`<div class="ask"><p><strong>${run.performer.name} has this run in hand.</strong> Only they enter readings and sign for the work.</p></div>`;
  }
  return null;
}

export function RunActs({ run }) {
  const { person, bundle } = useApp();
  const workable = isWorkable(run, person);
  const isMine = run.performer?.id === person?.id;
  if (run.isOver || !isMine) return null;
  const colleagues = (bundle?.colleagues ?? []).filter((each) => each.id !== person.id);
  return html`
    ${workable && html`<${Why} title="Equipment and fluid"><${Provisions} run=${run} /></${Why}>`}
    ${["open", "paused"].includes(run.state) && html`<${Why} title="Pause or hand over">
      ${run.state === "open" && html`<div class="acts"><button class="button" onClick=${() => work.pause(run)}>Pause</button></div>`}
      <${HandOver} run=${run} colleagues=${colleagues} /></${Why}>`}
    <${Why} title="Give up this run"><${Abandon} run=${run} /></${Why}>`;
}

function Provisions({ run }) {
  const roles = run.need.roles;
  const [lot, setLot] = useState(run.lot ?? (run.need.lots.find((each) => each.isUsable) && { ...run.need.lots.find((each) => each.isUsable), amount: "", unit: run.need.fluid?.unit }));
  return html`
    <${Tools} roles=${roles} chosen=${run.uses} onChoose=${(role, tool) => work.useTool(run, role, tool)} />
    ${run.need.fluid && html`<${Lots} need=${run.need} lot=${lot} onChoose=${setLot} />
      <div class="acts"><button class="button" disabled=${!lot?.amount} onClick=${() => work.useLot(run, lot)}>Enter the fluid</button></div>`}`;
}

function HandOver({ run, colleagues }) {
  const [to, setTo] = useState("");
  const [words, setWords] = useState("");
  const give = async () => {
    await work.handOver(run, colleagues.find((each) => each.id === Number(to)), words.trim());
    go();
  };
  return html`
    <${Field} id="to" label="Hand over to"><select id="to" value=${to} onChange=${(event) => setTo(event.target.value)}>
      <option value="" disabled selected=${!to}>Choose a colleague</option>
      ${colleagues.map((each) => html`<option key=${each.id} value=${each.id}>${each.name}</option>`)}</select></${Field}>
    <${Field} id="stands" label="Where the work stands"><textarea id="stands" maxlength="300" value=${words} onInput=${(event) => setWords(event.target.value)}></textarea></${Field}>
    <div class="acts"><button class="button" disabled=${!to || !words.trim()} onClick=${give}>Hand over</button></div>`;
}

function Abandon({ run }) {
  const [reason, setReason] = useState("");
  const give = async () => {
    await work.abandon(run, reason.trim());
    go();
  };
  return html`
    <p>What was entered stays readable; the task stands open again.</p>
    <${Field} id="reason" label="Why is it given up?"><textarea id="reason" maxlength="300" value=${reason} onInput=${(event) => setReason(event.target.value)}></textarea></${Field}>
    <div class="acts"><button class="button button-danger" disabled=${!reason.trim()} onClick=${give}>Give it up</button></div>`;
}
