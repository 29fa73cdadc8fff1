/** Which view is open: the address holds what must survive a reload. */
const OF_SHOP = ["tables", "week", "machines", "numbers", "nest", "seats"] as const;
export type View = "desk" | "job" | "papers" | "cuts" | (typeof OF_SHOP)[number];

/** A name as it stands in an address; one that nobody encoded is taken as it stands. */
function named(part = ""): string {
  try {
    return decodeURIComponent(part);
  } catch {
    return part;
  }
}

class Place {
  view = $state<View>("desk");
  job = $state("");
  contour = $state("");
  table = $state("");
  nest = $state("");

  constructor() {
    this.read();
    addEventListener("hashchange", () => this.read());
  }

  /** Remember the contour without a step in the history. */
  keep(contour: string): void {
    this.contour = contour;
    if (this.job) history.replaceState(null, "", addressOf(this.job, contour));
  }

  private read(): void {
    const [, kind, job, contour] = location.hash.split("/");
    const ofJob = (["job", "papers", "cuts"] as const).find((one) => one === kind);
    this.job = ofJob ? named(job) : "";
    this.view = this.job ? ofJob! : (OF_SHOP.find((one) => one === kind) ?? "desk");
    // What stands behind the tables is the name of one.
    this.table = kind === "tables" ? named(job) : "";
    this.nest = kind === "nest" ? named(job) : "";
    this.contour = named(contour);
  }
}

export const addressOf = (job: string, contour = ""): string =>
  `#/job/${encodeURIComponent(job)}${contour ? `/${encodeURIComponent(contour)}` : ""}`;

export const papersOf = (job: string): string => `#/papers/${encodeURIComponent(job)}`;
export const cutsOf = (job: string): string => `#/cuts/${encodeURIComponent(job)}`;
export const seatsAt = "#/seats";
export const tableAt = (table = ""): string => `#/tables${table ? `/${table}` : ""}`;
export const nestAt = (nest = ""): string => `#/nest${nest ? `/${encodeURIComponent(nest)}` : ""}`;

export const place = new Place();
