// Talks to the server: JSON there and back, refusals in words, the cross-site token, no waiting for ever.

const PATIENCE = 20_000;

let token = "";

// `kind`: offline (no answer), signed_out, refused. `words` are for people.
export class Unanswered extends Error {
  constructor(kind, status, words, problem = {}) {
    super(words);
    Object.assign(this, { kind, status, words, problem, code: problem.code ?? "" });
  }
}

const OFFLINE = "No reception here. Try again where there is some.";

async function ask(address, options) {
  try {
    return await fetch(address, {
      credentials: "same-origin", cache: "no-store", redirect: "error",
      signal: AbortSignal.timeout(PATIENCE), ...options,
    });
  } catch {
    throw new Unanswered("offline", 0, OFFLINE);
  }
}

async function read(response) {
  const body = response.status === 204 ? null : await response.json().catch(() => null);
  if (response.ok) return body;
  if (response.status === 401) throw new Unanswered("signed_out", 401, "You are signed out.", body ?? {});
  if (response.status >= 500) throw new Unanswered("offline", response.status, "The server has trouble. It is tried again.");
  const words = body?.errors?.length > 1 || !body?.detail
    ? [body?.detail ?? `Refused (${response.status}).`, ...(body?.errors ?? []).map((each) => each.remedy ?? "")].join(" ").trim()
    : body.detail;
  throw new Unanswered("refused", response.status, words, body ?? {});
}

export const get = async (address) => read(await ask(address, { headers: { Accept: "application/json" } }));

export const post = (address, body, headers = {}) => send("POST", address, body, headers);
export const drop = (address) => send("DELETE", address);

async function send(method, address, body, headers = {}) {
  const sendOnce = async () => read(await ask(address, {
    method,
    headers: { Accept: "application/json", "X-CSRFToken": token, "Content-Type": "application/json", ...headers },
    body: body === undefined ? undefined : JSON.stringify(body),
  }));
  if (!token) await session();
  try {
    return await sendOnce();
  } catch (fault) {
    const isToken = fault.status === 403 && (!fault.code || /csrf/i.test(fault.words));
    if (!isToken) throw fault;
    await session();
    return sendOnce();
  }
}

// Who is signed in, what time it is there, and the token for sending.
export async function session() {
  const sent = Date.now();
  const answer = await get("/api/v1/phone/session/");
  token = answer.token;
  return { ...answer, sent, came: Date.now() };
}

export async function signIn(username, password) {
  if (!token) await session();
  await post("/api/v1/phone/sign-in/", { username, password });
  return session();
}

export async function signOut() {
  await post("/api/v1/phone/sign-out/", {});
  token = "";
}
