/** What was typed and not sent: it stands again after a reload, and where its tab was closed. */

const BEGIN = "kerfwright.typing.";

function keysOf(store: Storage): string[] {
  return Object.keys(store).filter((key) => key.startsWith(BEGIN));
}

// A closed tab leaves its own to the next one that is opened; until then each tab has its own.
for (const key of keysOf(localStorage)) {
  const text = localStorage.getItem(key);
  localStorage.removeItem(key);
  if (text !== null && sessionStorage.getItem(key) === null) sessionStorage.setItem(key, text);
}
addEventListener("pagehide", () => {
  for (const key of keysOf(sessionStorage)) localStorage.setItem(key, sessionStorage.getItem(key)!);
});
// Back from where a browser keeps pages that were left: the typing is here again.
addEventListener("pageshow", (e) => {
  if (e.persisted) for (const key of keysOf(sessionStorage)) localStorage.removeItem(key);
});

export const unsent = {
  /** The text of a line of a job; null where nothing waits. */
  read: (job: string, line: string): string | null =>
    sessionStorage.getItem(`${BEGIN}${job}.${line}`),
  keep: (job: string, line: string, text: string): void =>
    sessionStorage.setItem(`${BEGIN}${job}.${line}`, text),
  drop: (job: string, line: string): void => sessionStorage.removeItem(`${BEGIN}${job}.${line}`),
};
