/** What was typed and is not stored: it stands again in any view, after a reload, and where its tab
    was closed. All fields keep it here, so that one place knows whether anything waits. */
import { untrack } from "svelte";
import { SvelteMap } from "svelte/reactivity";

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

const texts = new SvelteMap(
  keysOf(sessionStorage).map((key): [string, string] => [key, sessionStorage.getItem(key)!]),
);
/** Lines whose field is on the page: it says there what waits in it. */
const inSight = new SvelteMap<string, number>();

// No scope has a stroke in it, see the ids of jobs.
const beginOf = (scope: string): string => `${BEGIN}${scope}/`;
const keyOf = (scope: string, line: string): string => beginOf(scope) + line;

export const unsent = {
  /** The text of a line of a job, or of a form by its name; null where nothing waits. */
  read: (scope: string, line: string): string | null => texts.get(keyOf(scope, line)) ?? null,

  keep(scope: string, line: string, text: string): void {
    texts.set(keyOf(scope, line), text);
    sessionStorage.setItem(keyOf(scope, line), text);
  },

  drop(scope: string, line: string): void {
    texts.delete(keyOf(scope, line));
    sessionStorage.removeItem(keyOf(scope, line));
  },

  /** Lines in which something waits. */
  linesOf: (scope: string): string[] =>
    [...texts.keys()]
      .filter((key) => key.startsWith(beginOf(scope)))
      .map((key) => key.slice(beginOf(scope).length)),

  /** Drop what is found stored; a field that is on the page does so itself. */
  settle(scope: string, stored: Record<string, string>): void {
    for (const line of unsent.linesOf(scope))
      if (!unsent.isInSight(scope, line) && unsent.read(scope, line)?.trim() === stored[line])
        unsent.drop(scope, line);
  },

  isInSight: (scope: string, line: string): boolean => inSight.has(keyOf(scope, line)),

  /** The field of a line is on the page; returns how to say that it is no more. */
  show(scope: string, line: string): () => void {
    const key = keyOf(scope, line);
    // Said from effects, which are not to follow what they say.
    untrack(() => inSight.set(key, (inSight.get(key) ?? 0) + 1));
    return () => {
      const rest = untrack(() => inSight.get(key)!) - 1;
      if (rest) inSight.set(key, rest);
      else inSight.delete(key);
    };
  },
};
