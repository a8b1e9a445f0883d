// Find an aircraft by its registration, or by the label on it.

import { html, useState } from "../../../vendor/mobile/preact-htm.js";
import { go, useApp } from "../core/state.js";
import { Empty } from "../ui/parts.js";
import { Frame, Places } from "./frame.js";

const bare = (text) => text.toUpperCase().replace(/[^A-Z0-9]/g, "");

export function FindView() {
  const { bundle } = useApp();
  const [text, setText] = useState("");
  const found = (bundle?.aircraft ?? []).filter((each) => bare(each.registration).includes(bare(text)));
  return html`
    <${Frame} title="Find" foot=${html`<${Places} />`}>
      <form class="field" onSubmit=${(event) => { event.preventDefault(); if (found.length === 1) go("aircraft", found[0].registration); }}>
        <label for="registration">Registration</label>
        <div class="field-control"><input id="registration" autocomplete="off" autocapitalize="characters" spellcheck="false" value=${text} onInput=${(event) => setText(event.target.value)} /></div>
      </form>
      <div class="acts"><button class="button button-primary tall" onClick=${() => go("scan")}>Scan a label</button></div>
      ${found.length
        ? html`<ul class="cards">${found.map((each) => html`<li class="card" key=${each.registration}><p class="card-title"><a href=${`#/aircraft/${each.registration}`}>${each.registration}</a></p><p class="card-body">${each.type}, ${each.base}</p></li>`)}</ul>`
        : html`<${Empty} title="No aircraft fits"><p>${bundle ? "Check the letters." : "Load today’s work where there is reception."}</p></${Empty}>`}
    </${Frame}>`;
}
