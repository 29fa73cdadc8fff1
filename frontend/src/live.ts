/** One WebSocket: what changed elsewhere, how far a computation is, and whether the server lives. */
import type { What } from "./api";

export type Message =
  | { type: "jobs" }
  | { type: "moved" }
  | { type: "tables" }
  | { type: "nest"; nest: string }
  | { type: "week" }
  | { type: "week-work"; step: string; share: number }
  | { type: "job"; job: string; revision: number }
  | { type: "work"; job: string; what: What; step: string; share: number };

const AGAIN_MS = 1200;
/** The server closes so where nobody is logged in any more. */
const NOT_LOGGED_IN = 4401;

export function listen(
  hear: (message: Message) => void,
  connection: (isOpen: boolean) => void,
  lost: () => void,
): () => void {
  let socket: WebSocket | undefined;
  let timer = 0;
  let isClosed = false;
  const open = (): void => {
    const scheme = location.protocol === "https:" ? "wss" : "ws";
    socket = new WebSocket(`${scheme}://${location.host}/api/events`);
    socket.onopen = () => connection(true);
    socket.onmessage = (event) => hear(JSON.parse(event.data as string) as Message);
    socket.onclose = (event) => {
      if (isClosed) return;
      if (event.code === NOT_LOGGED_IN) return lost();
      connection(false);
      timer = window.setTimeout(open, AGAIN_MS);
    };
  };
  open();
  return () => {
    isClosed = true;
    clearTimeout(timer);
    socket?.close();
  };
}
