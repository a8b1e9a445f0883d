// Steps that are confirmed: a caution, a note, a check, a control to set.

import { html, useState } from "../../../vendor/mobile/preact-htm.js";
import { Caution, Field } from "../ui/parts.js";

export const CautionStep = ({ step, onAnswer }) => html`
  <${Caution} title=${step.title}><p>${step.text || step.title}</p></${Caution}>
  <div class="acts"><button class="button button-primary tall" onClick=${() => onAnswer({ acknowledged: true })}>I have read this</button></div>`;

export const NoteStep = ({ onNext }) => html`
  <div class="acts"><button class="button button-primary tall" onClick=${onNext}>Read, go on</button></div>`;

const Control = ({ step }) => step.control && html`
  <dl class="control"><div><dt>${step.control}</dt><dd>${step.state}</dd></div></dl>`;

export function CheckStep({ step, onAnswer }) {
  const [isOff, setOff] = useState(false);
  const [words, setWords] = useState("");
  if (!isOff) {
    return html`
      <${Control} step=${step} />
      <div class="acts">
        <button class="button button-primary tall" onClick=${() => onAnswer({ done: true })}>${step.kind === "set_control" ? "Set" : "Done, in order"}</button>
        <button class="button" onClick=${() => setOff(true)}>Not in order</button>
      </div>`;
  }
  return html`
    <${Control} step=${step} />
    <${Field} id="off-words" label="What is not in order?">
      <textarea id="off-words" maxlength="300" value=${words} onInput=${(event) => setWords(event.target.value)}></textarea></${Field}>
    <div class="acts">
      <button class="button button-danger tall" onClick=${() => onAnswer({ done: false, note: words.trim() })}>Enter: not in order</button>
      <button class="button" onClick=${() => setOff(false)}>Back</button>
    </div>`;
}
