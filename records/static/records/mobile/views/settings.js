// How this phone looks, sounds and lies in the hand.

import { html } from "../../../vendor/mobile/preact-htm.js";
import { applySettings, saveSettings } from "../core/settings.js";
import { change, go, useApp, waiting } from "../core/state.js";
import { getReady, ring } from "../core/sound.js";
import * as wire from "../core/wire.js";
import { Frame, Places } from "./frame.js";
import { Passkeys } from "./passkeys.js";

const CHOICES = [
  ["theme", "Light", [["phone", "As the phone"], ["light", "Paper"], ["dark", "Dark hangar"]]],
  ["type", "Letters", [["usual", "Usual"], ["large", "Large"]]],
  ["hand", "Hand", [["right", "Right"], ["left", "Left"]]],
  ["motion", "Motion", [["phone", "As the phone"], ["reduced", "None"]]],
  ["sound", "Sound at the end of a run", [["on", "On"], ["off", "Vibrate only"]]],
];

export function SettingsView() {
  const { settings, person, update } = useApp();
  const choose = (name, value) => {
    const changed = { ...settings, [name]: value };
    applySettings(changed);
    saveSettings(changed);
  };
  const out = async () => {
    await wire.signOut().catch(() => {});
    change({ person: null, reach: "signed_out", signInAsked: true });
  };
  return html`
    <${Frame} title="Settings" lead=${person ? person.name : "Nobody is signed in"} foot=${html`<${Places} />`}>
      ${CHOICES.map(([name, label, options]) => html`
        <fieldset class="choices" key=${name}><legend>${label}</legend>${options.map(([value, words]) => html`
          <label class="choice" key=${value}><input type="radio" name=${name} value=${value} checked=${settings[name] === value} onChange=${() => choose(name, value)} /><span>${words}</span></label>`)}</fieldset>`)}
      <div class="acts">
        <button class="button" onClick=${() => { getReady(); ring(1); }}>Try sound and vibration</button>
        <button class="button" onClick=${() => go("outbox")}>Outbox</button>
        <a class="button" href="/account/">My account on the desk’s page</a>
        ${person && html`<button class="button" onClick=${out}>Sign out${waiting().length ? `; ${waiting().length} waiting stay on this phone` : ""}</button>`}
        ${!person && html`<button class="button button-primary" onClick=${() => change({ signInAsked: true })}>Sign in</button>`}
        ${update && html`<button class="button button-primary" onClick=${update}>Start the new version</button>`}
      </div>
      ${person && html`<${Passkeys} />`}
    </${Frame}>`;
}
