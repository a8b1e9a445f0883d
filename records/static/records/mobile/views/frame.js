// The frame around every view: where one is, whether there is reception, what waits to be sent.

import { html, useEffect, useRef } from "../../../vendor/mobile/preact-htm.js";
import { asking, current, go, hasAside, useApp, waiting } from "../core/state.js";
import { Mark } from "../ui/parts.js";
import { RunningStrip } from "../ui/running.js";

const REACH = { online: "Connected", offline: "No reception", signed_out: "Signed out", unknown: "Connecting" };

export function outboxWords() {
  const asks = asking().length;
  const waits = waiting().length;
  if (asks) return `${asks} ${asks === 1 ? "needs" : "need"} you`;
  if (waits) return `${waits} waiting`;
  return hasAside() ? "Nothing waits" : "All sent";
}

const Pill = () => {
  const { reach } = useApp();
  const level = asking().length ? "stop" : reach === "online" && !waiting().length ? "clear" : "soon";
  return html`<button class="pill" onClick=${() => go("outbox")}>
    <${Mark} level=${level} /><span><span class="pill-reach">${REACH[reach]}</span> <span class="pill-count">${outboxWords()}</span></span></button>`;
};

// A new version does not push itself between somebody and the work in hand.
const isBusyAt = ([place]) => ["run", "sign"].includes(place);

// `back`: where the back button leads; `foot`: the buttons for the thumb.
export function Frame({ title, lead, back, foot, children, wide }) {
  const { said, held, update, route } = useApp();
  const heading = useRef();
  useEffect(() => {
    document.title = `${title} · Verglas`;
    window.scrollTo(0, 0);
    heading.current?.focus({ preventScroll: true });
  }, [title]);
  return html`
    <header class="top">
      ${back ? html`<button class="top-back" onClick=${back} aria-label="Back"><svg viewBox="0 0 16 16" aria-hidden="true"><path d="M10.5 2.5 5 8l5.5 5.5" /></svg></button>` : html`<span class="top-name">Verglas</span>`}
      <${Pill} /><${RunningStrip} />${update && !isBusyAt(route) && html`<button class="update" onClick=${update}>A new version is here: start it</button>`}
    </header>
    <main class=${`page${foot ? " page-foot" : ""}${wide ? " page-wide" : ""}`} id="main">
      <h1 tabindex="-1" ref=${heading}>${title}</h1>
      ${lead && html`<p class="lead">${lead}</p>`}
      ${held > 0 && html`<${Full} count=${held} />`}
      ${children}
    </main>
    ${foot && html`<div class="foot">${foot}</div>`}
    <p class="only-heard" role="status" aria-live="assertive">${said}</p>`;
}

const Full = ({ count }) => html`
  <div class="ask" role="alert">
    <p><strong>This phone’s storage is full.</strong> ${count} ${count === 1 ? "entry is" : "entries are"} held only while this page stays open.
    Do not close it. Send now where there is reception, or free some room on the phone.</p>
    <div class="acts"><button class="button button-primary tall" onClick=${() => go("outbox")}>See what is held</button></div>
  </div>`;

const PLACES = [["My work", ""], ["Find", "find"], ["Report", "report"], ["Settings", "settings"]];

export function Places() {
  const [here = ""] = current().route;
  return html`<nav class="places" aria-label="Places">${PLACES.map(([label, place]) => html`
    <a key=${place} href=${`#/${place}`} aria-current=${here === place ? "page" : undefined}>${label}</a>`)}</nav>`;
}
