// Find an aircraft by its registration or a component by its numbers, typed or read from the label.

import { html, useState } from "../../../vendor/mobile/preact-htm.js";
import { go, useApp } from "../core/state.js";
import * as wire from "../core/wire.js";
import { Empty } from "../ui/parts.js";
import { Frame, Places } from "./frame.js";

const SHORTEST = 3;
// On a label the numbers stand behind P/N and S/N.
const numberIn = (text) => text.trim().replace(/^[PS]\/N\s*/i, "");
const bare = (text) => text.toUpperCase().replace(/[^A-Z0-9]/g, "");

const Found = ({ place, title, words }) => html`
  <li class="card"><p class="card-title"><a href=${place}>${title}</a></p><p class="card-body">${words}</p></li>`;

export function FindView() {
  const { bundle } = useApp();
  const [text, setText] = useState("");
  const [parts, setParts] = useState(null);
  const found = (bundle?.aircraft ?? []).filter((each) => bare(each.registration).includes(bare(text)));
  const look = async () => {
    setParts({ words: "Looking it up…" });
    try {
      setParts(await wire.get(`/api/v1/components/?q=${encodeURIComponent(numberIn(text))}`));
    } catch (fault) {
      setParts({ words: fault.words ?? String(fault) });
    }
  };
  const submit = (event) => {
    event.preventDefault();
    if (text && found.length === 1) go("aircraft", found[0].registration);
    else if (text.trim().length >= SHORTEST) look();
  };
  const type = (event) => {
    setText(event.target.value);
    setParts(null);
  };
  return html`
    <${Frame} title="Find" foot=${html`<${Places} />`}>
      <form class="field" onSubmit=${submit}>
        <label for="wanted">Registration, serial number or part number</label>
        <div class="field-control"><input id="wanted" autocomplete="off" autocapitalize="characters" spellcheck="false" enterkeyhint="search" value=${text} onInput=${type} /></div>
        <div class="acts">${text.trim().length >= SHORTEST && html`<button type="button" class="button tall" onClick=${look}>Look for this component</button>`}
          <button type="button" class="button button-primary tall" onClick=${() => go("scan")}>Scan a label</button></div>
      </form>
      ${parts && html`<${Parts} parts=${parts} />`}
      ${found.length
        ? html`<ul class="cards">${found.map((each) => html`<${Found} key=${each.registration} place=${`#/aircraft/${each.registration}`} title=${each.registration} words=${each.words} />`)}</ul>`
        : !parts && html`<${Empty} title="No aircraft fits"><p>${bundle ? "Check the letters, or look for a component." : "Load today’s work where there is reception."}</p></${Empty}>`}
    </${Frame}>`;
}

function Parts({ parts }) {
  if (parts.words) return html`<p role="status">${parts.words}</p>`;
  if (!parts.results.length) return html`<p role="status">No component has this in its serial or part number.</p>`;
  return html`<ul class="cards" aria-label="Components">${parts.results.map((each) => html`
    <${Found} key=${each.id} place=${`#/component/${each.id}`} title=${each.serial_number} words=${each.part_number} />`)}</ul>`;
}
