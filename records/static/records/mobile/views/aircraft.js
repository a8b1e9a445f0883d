// One aircraft or component, opened from its label or by search.

import { html, useEffect, useState } from "../../../vendor/mobile/preact-htm.js";
import { back, go, useApp } from "../core/state.js";
import * as wire from "../core/wire.js";
import { Empty, Facts, Status, Why } from "../ui/parts.js";
import { Frame } from "./frame.js";
import { TaskCard } from "./my_work.js";

const LEVELS = { free_to_fly: "clear", restricted_icing: "soon", not_releasable: "stop" };

function useAnswer(address) {
  const [answer, setAnswer] = useState({});
  useEffect(() => {
    setAnswer({});
    wire.get(address).then((json) => setAnswer({ json }), (fault) => setAnswer({ words: fault.words ?? String(fault) }));
  }, [address]);
  return answer;
}

export function AircraftView({ id }) {
  const { bundle } = useApp();
  const aircraft = bundle?.aircraft.find((each) => each.registration === id.toUpperCase());
  const registration = aircraft?.registration ?? id;
  const { json: status, words } = useAnswer(`/api/v1/aircraft/${encodeURIComponent(registration)}/status/`);
  const tasks = (bundle?.tasks ?? []).filter((task) => task.registration === registration);
  const foot = html`<button class="button button-primary tall" onClick=${() => go("report", registration)}>Report an event</button>`;
  return html`
    <${Frame} title=${registration} lead=${aircraft?.words ?? ""} back=${back} foot=${foot}>
      ${status && html`<p><${Status} level=${LEVELS[status.state]} words=${status.words} /></p>
        ${status.reasons.length > 0 && html`<${Why} title="Why?"><ul>${status.reasons.map((each) => html`<li key=${each.words}>${each.words}</li>`)}</ul></${Why}>`}`}
      ${words && html`<p class="soft">Operating status: ${words}</p>`}
      <h2>Open work on this phone</h2>
      ${tasks.length ? html`<ul class="cards">${tasks.map((task) => html`<${TaskCard} key=${task.id} task=${task} />`)}</ul>`
        : html`<${Empty} title="No open task of yours"><p>Others may have work on this aircraft.</p></${Empty}>`}
    </${Frame}>`;
}

export function ComponentView({ id }) {
  const { json, words } = useAnswer(`/api/v1/phone/components/${encodeURIComponent(id)}/`);
  const foot = json?.registration && html`<button class="button button-primary tall" onClick=${() => go("aircraft", json.registration)}>Open ${json.registration}</button>`;
  return html`
    <${Frame} title=${json?.name ?? "Component"} back=${back} foot=${foot}>
      ${json ? html`<${Facts} rows=${[["Part number", json.part_number], ["Serial number", json.serial_number], ["Fitted", json.place], ["Since new", json.since_new], ["Since fitted", json.since_fitted]]} />`
        : html`<p>${words ?? "Looking it up…"}</p>`}
    </${Frame}>`;
}
