import { Refused, type Fault } from "../api";

/** Do something that the server may refuse, and return why it did; null where it did not. */
export async function attempt(action: () => Promise<void>): Promise<Fault | null> {
  try {
    await action();
    return null;
  } catch (e) {
    if (!(e instanceof Refused)) throw e;
    return e.fault;
  }
}
