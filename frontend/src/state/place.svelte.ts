/** Which view is open: the address holds what must survive a reload. */
class Place {
  job = $state("");
  contour = $state("");

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
    this.job = kind === "job" && job ? decodeURIComponent(job) : "";
    this.contour = contour ? decodeURIComponent(contour) : "";
  }
}

export const addressOf = (job: string, contour = ""): string =>
  `#/job/${encodeURIComponent(job)}${contour ? `/${encodeURIComponent(contour)}` : ""}`;

export const place = new Place();
