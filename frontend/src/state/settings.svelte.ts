/** What this person prefers on this machine. */
import type { Unit } from "../words";

const KEY = "kerfwright.unit";

function stored(): Unit | null {
  try {
    const text = localStorage.getItem(KEY);
    return text === "mm" || text === "in" ? text : null;
  } catch {
    return null;
  }
}

class Settings {
  /** Null until somebody chooses: then the drawing's own unit is shown. */
  chosen = $state<Unit | null>(stored());
  isDark = $state(matchMedia("(prefers-color-scheme: dark)").matches);

  constructor() {
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", (e) => {
      this.isDark = e.matches;
    });
  }

  choose(unit: Unit): void {
    this.chosen = unit;
    try {
      localStorage.setItem(KEY, unit);
    } catch {
      // Without storage the choice lasts as long as the page.
    }
  }
}

export const settings = new Settings();
