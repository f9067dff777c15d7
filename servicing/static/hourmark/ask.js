/* Asks the house: the same API a device uses, with this browser's own sign-in. For pages and the service worker. */

const PATIENCE = 20000; // milliseconds

/** The house refused; `problem` is its problem document (RFC 9457), or {} where it sent none. */
export class Refused extends Error {
  constructor(status, problem) {
    super(problem.detail ?? `Refused (${status}).`);
    this.status = status;
    this.problem = problem;
  }
}

/** Ask; the answer's JSON. Throws Refused, or whatever fetch throws when there is no line. */
export async function ask(address, options = {}) {
  const answer = await fetch(address, {
    credentials: "same-origin",
    signal: AbortSignal.timeout(PATIENCE),
    ...options,
    headers: { Accept: "application/json", "X-CSRFToken": await token(), ...options.headers },
  });
  const isJson = (answer.headers.get("Content-Type") ?? "").includes("json");
  const body = isJson ? await answer.json() : {};
  if (!answer.ok) throw new Refused(answer.status, body);
  return body;
}

/** Send a body as JSON. */
export const send = (address, body) =>
  ask(address, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });

/** Send a photo. */
export function sendPhoto(address, blob, name) {
  const form = new FormData();
  form.append("photo", blob, name);
  return ask(address, { method: "POST", body: form });
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
