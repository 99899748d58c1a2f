// Requests of the page: the token stands in the address behind #, is kept for this tab and sent in a header.

const KEPT = "sepkit";
const given = location.hash.slice(1);
if (given) {
  sessionStorage.setItem(KEPT, given);
  history.replaceState(null, "", location.pathname);
}
const token = sessionStorage.getItem(KEPT) || "";

export class Refused extends Error {
  constructor(said, status) {
    super(said.error);
    this.hint = said.hint || "";
    this.status = status;
  }
}

const GONE = {
  error: "sepkit has stopped",
  hint: "what you see can still be lifted, knocked and looked at; all changes are kept. Start it again in the same folder, sepkit page, and open the address that it prints",
};

async function asked(path, options = {}) {
  let answer;
  try {
    answer = await fetch(path, { ...options, headers: { "X-Sepkit": token, ...(options.headers || {}) } });
  } catch {
    throw new Refused(GONE, 0);
  }
  if (answer.ok) return answer;
  if (answer.status === 401) throw new Refused({ error: "this window belongs to an earlier start of sepkit", hint: "open the address that sepkit printed" }, 401);
  let said;
  try {
    said = await answer.json();
  } catch {
    said = { error: `the server answered ${answer.status}` };
  }
  throw new Refused(said, answer.status);
}

export const get = async (path) => (await asked(path)).json();
export const post = async (path, body = {}) => (await asked(path, {
  method: "POST", body: JSON.stringify(body), headers: { "Content-Type": "application/json" },
})).json();
export const put = async (path, file) => (await asked(path, { method: "PUT", body: file })).json();

export async function inflated(path) {
  const answer = await asked(path);
  const stream = answer.body.pipeThrough(new DecompressionStream("deflate"));
  return new Response(stream).arrayBuffer();
}

// JSON and the octets behind it: 4 bytes tell how long it is.
export async function parcel(path) {
  const buffer = await (await asked(path)).arrayBuffer(), length = new DataView(buffer).getUint32(0, true);
  return { told: JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, length))), octets: buffer.slice(4 + length) };
}

export const picture = async (path) => URL.createObjectURL(await (await asked(path)).blob());
export const bitmap = async (path) => createImageBitmap(await (await asked(path)).blob());
