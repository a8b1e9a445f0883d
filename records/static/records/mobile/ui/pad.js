// The numeric pad: big keys, the unit in sight, hardware keys welcome. It types plain decimals only.

import { html, useRef } from "../../../vendor/mobile/preact-htm.js";

const KEYS = ["1", "2", "3", "4", "5", "6", "7", "8", "9", ".", "0", "back"];
const LONGEST = 16;

export function typed(text, key) {
  if (key === "back") return text.slice(0, -1);
  if (key === "sign") return text.startsWith("-") ? text.slice(1) : `-${text}`;
  if (text.length >= LONGEST) return text;
  if (key === "." || key === ",") return text.includes(".") ? text : `${text || "0"}.`;
  return /^-?0$/.test(text) ? text.replace("0", key) : text + key;
}

const clean = (text) => text.replace(",", ".").replace(/[^0-9.-]/g, "").slice(0, LONGEST);

// fields: [{name, label, unit, units?, value, onUnit?}]; `at` names the one being typed.
export function Pad({ fields, at, onAt, onType, signed, children }) {
  const inputs = useRef({});
  const active = fields.find((each) => each.name === at) ?? fields[0];
  const press = (key) => {
    onType(active.name, typed(active.value, key));
    inputs.current[active.name]?.focus({ preventScroll: true });
  };
  return html`
    <div class="pad">
      <div class="pad-fields">${fields.map((each) => html`
        <div class=${`pad-field${each.name === active.name ? " pad-field-on" : ""}`} key=${each.name}>
          <label for=${`pad-${each.name}`}>${each.label}</label>
          <div class="pad-value">
            <input id=${`pad-${each.name}`} ref=${(node) => { inputs.current[each.name] = node; }} inputmode="none"
              autocomplete="off" enterkeyhint="done" value=${each.value} onFocus=${() => onAt(each.name)}
              onInput=${(event) => onType(each.name, clean(event.target.value))} />
            ${each.units?.length > 1
              ? html`<select aria-label=${`Unit of ${each.label}`} value=${each.unit}
                  onChange=${(event) => each.onUnit(event.target.value)}>${each.units.map((unit) => html`
                  <option value=${unit.code} selected=${unit.code === each.unit}>${unit.label}</option>`)}</select>`
              : html`<span class="pad-unit">${each.unitLabel ?? each.unit}</span>`}
          </div>
        </div>`)}</div>
      ${children}
      <div class="pad-keys" role="group" aria-label=${`Keys for ${active.label}`}>
        ${KEYS.map((key) => html`<button type="button" class="key" key=${key} onClick=${() => press(key)}
          aria-label=${key === "back" ? "Delete the last digit" : key === "." ? "Decimal point" : key}>${key === "back" ? "⌫" : key}</button>`)}
        ${signed && html`<button type="button" class="key key-wide" onClick=${() => press("sign")}>Below zero: change the sign</button>`}
      </div>
    </div>`;
}
