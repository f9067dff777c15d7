/* Asks the house: the same API a device uses, with this browser's own sign-in. For pages and the service worker. */

const PATIENCE = 20000; // milliseconds
const SLOWEST = 10; // bytes a millisecond: a photo of 3 MB may take five minutes on the edge of a network
const TOO_LARGE = 413; // said by what stands before the house, too, in its own words
const FRESH_TOKEN = "/api/v1/phone?code=0"; // asks for no machine: its answer brings a token of forms

/** The house refused; `problem` is its problem document (RFC 9457), the message its most exact sentence,
    or its status alone: this runs without a page, too, where nothing is said (standing.js says it). */
export class Refused extends Error {
  constructor(status, problem) {
    super(problem.errors?.[0]?.detail ?? problem.detail ?? String(status));
    this.status = status;
    this.problem = problem;
  }
}

/** Ask; the answer's JSON. Throws Refused, or another error where the house didn't answer.

    What isn't JSON is another's answer: of a network that wants a sign-in of its own, of a door before a house
    that is gone. */
export async function ask(address, { patience = PATIENCE, ...options } = {}) {
  const answer = await fetch(address, {
    credentials: "same-origin",
    signal: AbortSignal.timeout(patience),
    ...options,
    headers: { Accept: "application/json", "X-CSRFToken": await token(), ...options.headers },
  });
  const isJson = (answer.headers.get("Content-Type") ?? "").includes("json");
  if (!isJson && answer.status !== TOO_LARGE) throw new Error(`${address}: not answered by the house`);
  const body = isJson ? await answer.json() : {};
  if (!answer.ok) throw new Refused(answer.status, body);
  return body;
}

/** Send; where the token of forms has ended though the sign-in has not, once more with a fresh one. */
async function post(address, options) {
  const sent = { method: "POST", ...options };
  try {
    return await ask(address, sent);
  } catch (error) {
    if (!(error instanceof Refused) || error.status !== 403) throw error;
    await ask(FRESH_TOKEN);
    return ask(address, sent);
  }
}

/** Send a body as JSON. */
export const send = (address, body) =>
  post(address, { headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });

/** Send a photo, with what else is to be told of it. */
export function sendPhoto(address, blob, name, facts = {}) {
  const form = new FormData();
  for (const [key, value] of Object.entries(facts)) form.append(key, value);
  form.append("photo", blob, name);
  return post(address, { body: form, patience: PATIENCE + Math.ceil(blob.size / SLOWEST) });
}

/** The token as it is now: signing in again changes it, and the page may be older than that. */
async function token() {
  for (const name of ["__Host-csrftoken", "csrftoken"]) { // over TLS a name that no other host can set
    const value = await cookie(name);
    if (value) return value;
  }
  return "";
}

async function cookie(name) {
  if (globalThis.document) {
    return document.cookie.split("; ").find((each) => each.startsWith(`${name}=`))?.slice(name.length + 1);
  }
  return (await globalThis.cookieStore?.get(name))?.value; // a service worker has no document
}
