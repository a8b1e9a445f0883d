// Passkeys: the phone's own lock proves who somebody is. The browser speaks bytes, the server base64url.

import * as wire from "./wire.js";

const bytes = (text) => Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/")), (each) => each.charCodeAt(0));
const text = (buffer) => btoa(String.fromCharCode(...new Uint8Array(buffer))).replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");

export const arePossible = () => Boolean(window.PublicKeyCredential && window.isSecureContext);

const withBytes = (list = []) => list.map((each) => ({ ...each, id: bytes(each.id) }));

export const mine = () => wire.get("/api/v1/passkeys/");
export const remove = (id) => wire.drop(`/api/v1/passkeys/${id}/`);

// The password comes first: whoever finds a phone unlocked must not add their own key.
export async function makeOne(label, password) {
  const options = await wire.post("/api/v1/passkeys/options/", { password });
  const made = await navigator.credentials.create({
    publicKey: {
      ...options, challenge: bytes(options.challenge), user: { ...options.user, id: bytes(options.user.id) },
      excludeCredentials: withBytes(options.excludeCredentials),
    },
  });
  const credential = {
    id: made.id, rawId: text(made.rawId), type: made.type,
    response: { clientDataJSON: text(made.response.clientDataJSON), attestationObject: text(made.response.attestationObject) },
  };
  return wire.post("/api/v1/passkeys/", { label, credential });
}

// A fresh proof for signing; `username` where a colleague signs on this phone.
export async function prove(username = "") {
  const options = await wire.post("/api/v1/passkeys/proof-options/", { username });
  const given = await navigator.credentials.get({
    publicKey: { ...options, challenge: bytes(options.challenge), allowCredentials: withBytes(options.allowCredentials) },
  });
  const { response } = given;
  return {
    id: given.id, rawId: text(given.rawId), type: given.type,
    response: {
      clientDataJSON: text(response.clientDataJSON), authenticatorData: text(response.authenticatorData),
      signature: text(response.signature), userHandle: response.userHandle ? text(response.userHandle) : null,
    },
  };
}
