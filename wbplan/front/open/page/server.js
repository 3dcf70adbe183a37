// What is asked of the server: one request at a time, and of many edits of one kind the last.

let busy = false;
const waiting = [];

async function send(path, init) {
  let answer;
  try {
    answer = await fetch(path, { cache: "no-store", ...init });
  } catch {
    return { status: 0, said: { trouble: "wbplan has ended, or this machine lost it: start it again" } };
  }
  let said = {};
  try {
    said = await answer.json();
  } catch {
    said = { trouble: `no answer that can be read (${answer.status})` };
  }
  return { status: answer.status, said };
}

async function work() {
  if (busy) return;
  busy = true;
  while (waiting.length) {
    const { prepare, done } = waiting.shift();
    const { path, init } = prepare();
    const { status, said } = await send(path, init);
    done(status, said);
  }
  busy = false;
}

/** Ask for a change. `makeBody` is called when its turn comes, with the newest version at hand. */
export function change(path, makeBody, done, group = "") {
  const last = waiting.at(-1);
  const prepare = () => ({
    path,
    init: {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ ...makeBody(), group: group || undefined }),
    },
  });
  if (group && last && last.group === group) Object.assign(last, { prepare, done });
  else waiting.push({ prepare, done, group });
  work();
}

/** Hand a file over. */
export function drop(makeQuery, file, done) {
  const prepare = () => ({
    path: `/drop?${new URLSearchParams(makeQuery())}`,
    init: {
      method: "POST",
      headers: { "Content-Type": "application/octet-stream" },
      body: file,
    },
  });
  waiting.push({ prepare, done, group: "" });
  work();
}

/** Forget what waits: it was meant for what is no longer there. */
export const forget = () => waiting.splice(0);

export const look = (path) => send(path, {});
export const isIdle = () => !busy && waiting.length === 0;
