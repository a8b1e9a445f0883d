// The passkeys of whoever is signed in: add this phone, take one away.

import { html, useEffect, useState } from "../../../vendor/mobile/preact-htm.js";
import * as passkeys from "../core/passkeys.js";
import { dayTime } from "../ui/moments.js";
import { Field, Why } from "../ui/parts.js";

export function Passkeys() {
  const [rows, setRows] = useState([]);
  const [form, setForm] = useState({ label: "This phone", password: "" });
  const [words, setWords] = useState("");
  const load = () => passkeys.mine().then(setRows, (fault) => setWords(fault.words ?? ""));
  useEffect(() => { load(); }, []);
  const act = async (doing, done) => {
    setWords("");
    try {
      await doing();
      setWords(done);
      await load();
    } catch (fault) {
      setWords(fault.words ?? "The phone did not make a passkey.");
    }
  };
  const add = (event) => {
    event.preventDefault();
    const { label, password } = form;
    setForm({ ...form, password: "" });
    act(() => passkeys.makeOne(label, password), "The passkey is kept. You can sign with it.");
  };
  return html`
    <${Why} title="Passkeys">
      <p>A passkey lets you sign with the lock of this phone instead of your password.</p>
      <ul class="sendings">${rows.map((row) => html`<li key=${row.id}><p><strong>${row.label}</strong></p>
        <p class="soft">Made ${dayTime(row.created_at)}${row.last_used_at ? `, last used ${dayTime(row.last_used_at)}` : ""}</p>
        <div class="acts"><button class="button" onClick=${() => act(() => passkeys.remove(row.id), "The passkey is removed.")}>Remove it</button></div></li>`)}</ul>
      ${passkeys.arePossible() && html`<form onSubmit=${add}>
        <${Field} id="passkey-label" label="Name of the device"><input id="passkey-label" maxlength="80" value=${form.label} onInput=${(event) => setForm({ ...form, label: event.target.value })} /></${Field}>
        <${Field} id="passkey-password" label="Your password"><input id="passkey-password" type="password" autocomplete="current-password" value=${form.password} onInput=${(event) => setForm({ ...form, password: event.target.value })} /></${Field}>
        <div class="acts"><button class="button button-primary" disabled=${!form.password || !form.label.trim()}>Make a passkey on this phone</button></div></form>`}
      <p role="status">${words}</p>
    </${Why}>`;
}
