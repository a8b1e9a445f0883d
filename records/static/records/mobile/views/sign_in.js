// The sign-in sheet lies over whatever is open: nothing behind it is lost, and the outbox goes on afterwards.

import { html, useEffect, useRef, useState } from "../../../vendor/mobile/preact-htm.js";
import { change, useApp, waiting } from "../core/state.js";
import { refreshBundle } from "../core/bundle.js";
import * as wire from "../core/wire.js";
import { arrive } from "../core/session.js";

export function SignInSheet() {
  const { signInAsked, person } = useApp();
  const sheet = useRef();
  const [form, setForm] = useState({ username: person?.username ?? "", password: "" });
  const [words, setWords] = useState("");
  const [isBusy, setBusy] = useState(false);
  useEffect(() => {
    const dialog = sheet.current;
    if (signInAsked && !dialog.open) dialog.showModal();
    if (!signInAsked && dialog.open) dialog.close();
    if (signInAsked && person?.username) setForm((old) => ({ ...old, username: old.username || person.username }));
  }, [signInAsked]);
  const send = async (event) => {
    event.preventDefault();
    setBusy(true);
    setWords("");
    try {
      await arrive(await wire.signIn(form.username, form.password));
      setForm({ username: form.username, password: "" });
      change({ signInAsked: false });
      await refreshBundle();
    } catch (fault) {
      if (!(fault instanceof wire.Unanswered)) throw fault;
      setWords(fault.words);
    } finally {
      setBusy(false);
    }
  };
  const waits = waiting().length;
  return html`
    <dialog class="sheet" ref=${sheet} aria-labelledby="sign-in-title" onClose=${() => change({ signInAsked: false })}>
      ${signInAsked && html`<form onSubmit=${send}>
        <h2 id="sign-in-title">Sign in</h2>
        <p>${waits ? `${waits} ${waits === 1 ? "entry waits" : "entries wait"} on this phone and ${waits === 1 ? "is" : "are"} sent after you sign in.` : person ? "What you enter stays on this phone until you do." : "With the same name and password as at the desk."}</p>
        <div class="field"><label for="username">Name for signing in</label><div class="field-control">
          <input id="username" autocomplete="username" autocapitalize="none" spellcheck="false" required value=${form.username} onInput=${(event) => setForm({ ...form, username: event.target.value })} /></div></div>
        <div class="field"><label for="password">Password</label><div class="field-control">
          <input id="password" type="password" autocomplete="current-password" required value=${form.password} onInput=${(event) => setForm({ ...form, password: event.target.value })} /></div></div>
        <p class="field-error" role="alert">${words}</p>
        <div class="acts"><button class="button button-primary tall" disabled=${isBusy}>Sign in</button>
          <button type="button" class="button" onClick=${() => change({ signInAsked: false })}>Go on, sign in later</button></div>
      </form>`}
    </dialog>`;
}
