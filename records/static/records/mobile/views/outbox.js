// What waits to be sent, what needs a decision, what was set aside. Nothing leaves this list by itself but by being taken.

import { html, useEffect, useState } from "../../../vendor/mobile/preact-htm.js";
import * as outbox from "../core/outbox.js";
import * as store from "../core/store.js";
import { back, change, useApp } from "../core/state.js";
import { dayTime } from "../ui/moments.js";
import { Empty, Status, Why } from "../ui/parts.js";
import { Frame } from "./frame.js";
import { WaysOut } from "./ways_out.js";

const KIND = {
  open_run: "Begin the work", answer: "Answer", use_equipment: "Equipment", use_lot: "Fluid", photo: "Photo",
  pause: "Pause", resume: "Go on", hand_over: "Hand over", abandon: "Give up", finish: "Finish",
  report_event: "Event",
};

export const titleOf = (command) => [KIND[command.kind] ?? command.kind, command.label].filter(Boolean).join(": ");

const Row = ({ command, children }) => html`
  <li class="sending"><p><strong>${titleOf(command)}</strong> <span class="soft">${command.about ?? ""}</span></p>
    <p class="soft">${dayTime(command.at)}${command.personName ? `, ${command.personName}` : ""}</p>${children}</li>`;

export function OutboxView() {
  const { commands, reach, reachWords, held, moved } = useApp();
  const [room, setRoom] = useState(null);
  useEffect(() => { store.room().then(setRoom); }, [held]);
  const asks = commands.filter((each) => each.state === "asks");
  const waits = commands.filter((each) => each.state === "waiting");
  const aside = commands.filter((each) => each.state === "aside");
  const foot = reach === "signed_out"
    ? html`<button class="button button-primary tall" onClick=${() => change({ signInAsked: true })}>Sign in and send</button>`
    : html`<button class="button button-primary tall" onClick=${() => outbox.send()}>Send now</button>`;
  return html`
    <${Frame} title="Outbox" lead=${leadWords(reach, waits.length, aside.length)} back=${back} foot=${foot}>
      ${reachWords && html`<div class="ask" role="alert"><p>${reachWords}</p></div>`}
      ${Math.abs(moved) > 60_000 && html`<div class="ask"><p><strong>This phone’s clock is wrong.</strong> What was entered by it was moved by ${Math.round(Math.abs(moved) / 60_000)} min, so that every time is true. Set the clock of the phone.</p></div>`}
      ${asks.length > 0 && html`<h2>Needs you</h2><ul class="sendings">${asks.map((each) => html`
        <${Row} key=${each.id} command=${each}><p><${Status} level="stop" words=${each.status === "conflict" ? "Conflict" : "Not taken"} /></p><p>${each.words}</p><${WaysOut} command=${each} /></${Row}>`)}</ul>`}
      <h2>Waiting</h2>
      ${waits.length
        ? html`<ul class="sendings">${waits.map((each) => html`<${Row} key=${each.id} command=${each} />`)}</ul>`
        : html`<${Empty} title="Nothing waits"><p>${aside.length ? "Everything but what is set aside below has been sent." : "Everything entered on this phone has been sent."}</p></${Empty}>`}
      ${aside.length > 0 && html`<${Why} title=${`Set aside (${aside.length})`}><ul class="sendings">${aside.map((each) => html`
        <${Row} key=${each.id} command=${each}><p>${each.words}</p><div class="acts">
          <button class="button" onClick=${() => outbox.tryAgain(each.id)}>Send it after all</button>
          <${Forget} command=${each} /></div></${Row}>`)}</ul></${Why}>`}
      ${room && html`<p class="soft">${Math.round(room.usage / 1024)} KB of ${Math.round(room.quota / 1024 / 1024)} MB used on this phone.</p>`}
      <div class="acts"><button class="button" onClick=${() => navigator.clipboard?.writeText(asText(commands))}>Copy everything as text</button></div>
    </${Frame}>`;
}

function Forget({ command }) {
  const [isSure, setSure] = useState(false);
  return isSure
    ? html`<button class="button button-danger" onClick=${() => outbox.forget(command.id)}>Yes, delete it from this phone</button>`
    : html`<button class="button" onClick=${() => setSure(true)}>Delete</button>`;
}

function leadWords(reach, waits, aside) {
  const one = waits === 1;
  if (!waits) return aside ? `Nothing waits, ${aside} set aside` : "All sent";
  if (reach === "signed_out") return `${waits} ${one ? "waits" : "wait"} until you sign in again`;
  if (reach === "offline") return `${waits} ${one ? "waits" : "wait"} for reception`;
  return `${waits} waiting`;
}

const asText = (commands) => commands.map((each) =>
  `${new Date(each.at).toISOString()} ${titleOf(each)} ${each.about ?? ""} ${JSON.stringify(each.body)} ${each.state} ${each.words ?? ""}`).join("\n");
