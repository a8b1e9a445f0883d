// The numeric pad: what is typed, what it comes to and the keys stand together at the bottom, whatever the size of
// the letters. Hardware keys are welcome; it types plain decimals only.

import { html, useRef } from "../../../vendor/mobile/preact-htm.js";

const KEYS = ["1", "2", "3", "4", "5", "6", "7", "8", "9", ".", "0"];
const NAMES = { ".": "Decimal point" };
const LONGEST = 16;

export function typed(text, key) {
  if (key === "back") return text.slice(0, -1);
  if (key === "sign") return text.startsWith("-") ? text.slice(1) : `-${text}`;
  if (text.length >= LONGEST) return text;
  if (key === "." || key === ",") return text.includes(".") ? text : `${text || "0"}.`;
  return /^-?0$/.test(text) ? text.replace("0", key) : text + key;
}

const clean = (text) => text.replace(",", ".").replace(/[^0-9.-]/g, "").slice(0, LONGEST);

// fields: [{name, label, of?, unit, units?, value, onUnit?}]; `at` names the one being typed; `more`: a further field;
// `enter`: {words, isOff, act}.
export function Pad({ fields, at, onAt, onType, signed, enter, more, children }) {
  const inputs = useRef({});
  const active = fields.find((each) => each.name === at) ?? fields[0];
  const press = (key) => {
    onType(active.name, typed(active.value, key));
    inputs.current[active.name]?.focus({ preventScroll: true });
  };
  return html`
    <div class="pad">
      <div class=${`pad-fields${fields.length > 1 ? " pad-fields-many" : ""}`}>${fields.map((each) => html`
        <${PadField} key=${each.name} field=${each} isActive=${each.name === active.name} onAt=${onAt} onType=${onType}
          keep=${(node) => { inputs.current[each.name] = node; }} />`)}${more}</div>
      ${children}
      <div class=${`pad-keys${signed ? "" : " pad-keys-unsigned"}`} role="group" aria-label=${`Keys for ${active.label}`}>
        ${KEYS.map((name) => html`<${Key} key=${name} name=${name} words=${NAMES[name] ?? name} onPress=${press}>${name}</${Key}>`)}
        ${signed && html`<${Key} name="sign" words="Below zero: change the sign" onPress=${press}>±</${Key}>`}
        <${Key} name="back" words="Delete the last digit" look="key-back" onPress=${press}>⌫</${Key}>
        <button type="button" class="button button-primary key-enter" disabled=${enter.isOff} onClick=${enter.act}>${enter.words}</button>
      </div>
    </div>`;
}

const Key = ({ name, words, look = "", onPress, children }) => html`
  <button type="button" class=${`key ${look}`} aria-label=${words} onClick=${() => onPress(name)}>${children}</button>`;

function PadField({ field, isActive, onAt, onType, keep }) {
  const { name, label, of, value, unit, units, unitLabel, onUnit } = field;
  return html`
    <div class=${`pad-field${isActive ? " pad-field-on" : ""}`}>
      <label for=${`pad-${name}`}>${label}${of && html`<span class="only-heard">, ${of}</span>`}</label>
      <div class="pad-value">
        <input id=${`pad-${name}`} ref=${keep} inputmode="none" autocomplete="off" enterkeyhint="done" value=${value}
          onFocus=${() => onAt(name)} onInput=${(event) => onType(name, clean(event.target.value))} />
        ${units?.length > 1
          ? html`<select aria-label=${`Unit of ${label}`} value=${unit} onChange=${(event) => onUnit(event.target.value)}>${units.map((each) => html`
              <option value=${each.code} selected=${each.code === unit}>${each.label}</option>`)}</select>`
          : html`<span class="pad-unit">${unitLabel ?? unit}</span>`}
      </div>
    </div>`;
}
