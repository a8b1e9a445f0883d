// Every outlet that must wet: the clock starts with the fluid, a tap says when each one is wet.

import { html, useState } from "../../../vendor/mobile/preact-htm.js";
import * as clock from "../core/clock.js";
import { getReady, tick } from "../core/sound.js";
import { span, tenths } from "../ui/moments.js";
import { OutletMap } from "../ui/map.js";
import { useAwake, useNow } from "../ui/ticking.js";
import { Judged, tryOut } from "./reading.js";

export function OutletsStep({ run, step, onAnswer, onTime }) {
  const outlets = run.outlets[step.key] ?? [];
  const timer = run.timers[step.key] ?? { wet: {} };
  const [isEnding, setEnding] = useState(false);
  const dry = outlets.filter((each) => !timer.wet[each.code]);
  const isRunning = Boolean(timer.started_at) && dry.length > 0;
  const moment = useNow(isRunning);
  useAwake(isRunning);
  const start = () => {
    getReady();
    onTime({ wet: {}, started_at: clock.iso(clock.now()) });
  };
  const tap = (code) => {
    if (!timer.started_at) return;
    tick();
    const { [code]: known, ...others } = timer.wet;
    const seconds = tenths(clock.now() - Date.parse(timer.started_at));
    onTime({ ...timer, wet: known ? others : { ...timer.wet, [code]: seconds } });
  };
  const answer = { outlets: outlets.map(({ code }) => (timer.wet[code] ? { position: code, wet: true, seconds: timer.wet[code] } : { position: code, wet: false })) };
  const limit = step.longest_seconds ? html` within <strong>${step.longest_seconds} s</strong>` : "";
  if (!outlets.length) {
    return html`<p>This aircraft has no outlet here.</p>
      <div class="acts"><button class="button button-primary tall" onClick=${() => onAnswer({ outlets: [] })}>Go on</button></div>`;
  }
  return html`
    <p class="allowed">Every outlet wet${limit}. ${outlets.length - dry.length} of ${outlets.length} wet.</p>
    ${timer.started_at
      ? html`<p class="middle-timer" role="timer" aria-live="off">${span((isRunning ? moment : lastOf(timer, moment)) - Date.parse(timer.started_at))}</p>`
      : html`<div class="acts"><button class="button button-primary tallest" onClick=${start}>Fluid on: start the clock</button></div>`}
    <${OutletMap} outlets=${outlets} marks=${timer.wet} onTap=${tap} />
    ${areasOf(outlets).map(([area, some]) => html`<${Area} key=${area} area=${area} outlets=${some} timer=${timer} onTap=${tap} />`)}
    ${(dry.length === 0 || isEnding) && html`<${Judged} judged=${tryOut(run, step, answer)} isTyped=${true} />`}
    ${timer.started_at && html`<div class="acts">${dry.length === 0
      ? html`<button class="button button-primary tall" onClick=${() => onAnswer(answer)}>Enter: all ${outlets.length} wet</button>`
      : isEnding
        ? html`<button class="button button-danger tall" onClick=${() => onAnswer(answer)}>Enter: ${dry.length} stayed dry</button>
            <button class="button" onClick=${() => setEnding(false)}>Wait on</button>`
        : html`<button class="button" onClick=${() => setEnding(true)}>The rest stays dry</button>`}</div>`}`;
}

// Outlets by the area of the aircraft they belong to, in the order one walks.
function areasOf(outlets) {
  const areas = new Map();
  for (const each of outlets) areas.set(each.zone, [...(areas.get(each.zone) ?? []), each]);
  return [...areas];
}

const Area = ({ area, outlets, timer, onTap }) => html`
  <h2 class="area">${area} <span class="soft">${outlets.filter((each) => timer.wet[each.code]).length} of ${outlets.length} wet</span></h2>
  <ol class="outlets">${outlets.map((each) => html`
    <li key=${each.code}><button class="button outlet" aria-pressed=${Boolean(timer.wet[each.code])} disabled=${!timer.started_at} onClick=${() => onTap(each.code)}>
      <span>${each.name}</span><span class="outlet-state">${timer.wet[each.code] ? `wet, ${timer.wet[each.code]} s` : "not yet"}</span></button></li>`)}</ol>`;

const lastOf = (timer, moment) => {
  const seconds = Object.values(timer.wet).map(Number);
  return seconds.length ? Date.parse(timer.started_at) + Math.max(...seconds) * 1000 : moment;
};
