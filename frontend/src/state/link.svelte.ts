/** The one link to the server that all views share. */
import { asking, AWAY, type Fault } from "../api";
import { listen, type Message } from "../live";

type Hear = (message: Message) => void;

class Link {
  isOpen = $state(true);
  private readonly ears = new Set<Hear>();
  private readonly returns = new Set<() => void>();

  private hangUp: (() => void) | null = null;

  /** Listen to the server, once it is known that it answers whoever looks at this page. */
  begin(): void {
    this.hangUp ??= listen(
      (message) => this.ears.forEach((hear) => hear(message)),
      (isOpen) => {
        const isBack = isOpen && !this.isOpen;
        this.isOpen = isOpen;
        if (isBack) this.returns.forEach((again) => again());
      },
      () => asking.lost(),
    );
  }

  /** Listen no more: nobody is logged in. */
  end(): void {
    this.hangUp?.();
    this.hangUp = null;
    this.isOpen = true;
  }

  /** Forget a fault once the server is back, where it is that the server does not answer. */
  untilBack(fault: Fault | null, forget: () => void): void {
    if (fault?.code !== AWAY.code) return;
    const stop = this.on(
      () => {},
      () => {
        stop();
        forget();
      },
    );
  }

  /** Hear messages, and be called when the server is back; returns how to stop. */
  on(hear: Hear, again: () => void): () => void {
    this.ears.add(hear);
    this.returns.add(again);
    return () => {
      this.ears.delete(hear);
      this.returns.delete(again);
    };
  }
}

export const link = new Link();
