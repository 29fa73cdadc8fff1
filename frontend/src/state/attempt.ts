import { Refused, type Fault } from "../api";
import { link } from "./link.svelte";

/** Do something that the server may refuse, and return why it did; null where it did not.
    `forget` is called once a server that did not answer is back. */
export async function attempt(
  action: () => Promise<void>,
  forget?: () => void,
): Promise<Fault | null> {
  try {
    await action();
    return null;
  } catch (e) {
    if (!(e instanceof Refused)) throw e;
    if (forget) link.untilBack(e.fault, forget);
    return e.fault;
  }
}
