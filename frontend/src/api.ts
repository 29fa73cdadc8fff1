/** The server's API; every change of a job goes through here, with the revision it was made on. */
import type { components } from "./api-types";

type Shapes = components["schemas"];
export type Job = Shapes["Job"];
export type Draft = Shapes["Draft"];
export type Card = Shapes["Card"];
export type JobList = Shapes["JobList"];
export type Added = Shapes["Added"];
export type Fault = Shapes["Fault"];
export type Line = Shapes["Line"];
export type Said = Shapes["Said"];
export type Finding = Shapes["FindingShape"];
export type Reading = Shapes["ReadingShape"];
export type Contour = Shapes["ContourShape"];
export type Pinned = Shapes["PinnedShape"];
export type PlaceTried = Shapes["PlaceTried"];
export type Placeable = Shapes["PlaceWanted"]["what"];
export type PassShape = Shapes["PassShape"];
export type Price = Shapes["PriceShape"];
export type Stretch = Shapes["StretchShape"];
export type Strip = Shapes["StripShape"];
export type Freed = Shapes["FreedShape"];
export type Worst = Shapes["WorstShape"];
export type SpaceTold = Shapes["SpaceShape"];
export type SpaceWallTold = Shapes["SpaceWallShape"];
export type ExtremeTold = Shapes["ExtremeShape"];
export type Reason = Shapes["ReasonShape"];
export type Savings = Shapes["Savings"];
export type Alternative = Shapes["Alternative"];
export type StackCurve = Shapes["StackCurveShape"];
export type StackPoint = Shapes["StackPointShape"];
export type Offer = Shapes["Offer"];
export type Names = Shapes["Names"];
export type Work = Shapes["Work"];
export type Stage = Card["stage"];
export type What = Work["what"];
export type PaperDesk = Shapes["PaperDesk"];
export type PaperOrder = Shapes["PaperOrder"];
export type MeasuredDesk = Shapes["MeasuredDesk"];
export type CutSaid = Shapes["CutSaid"];
export type OffsetSetSaid = Shapes["OffsetSetSaid"];
export type Cut = Shapes["CutShape"];
export type CutBounds = Shapes["CutBounds"];
export type PlannedPass = Shapes["PlannedPass"];
export type Recorded = Shapes["RecordedShape"];
export type Moved = Shapes["Moved"];
export type TableCard = Shapes["TableCard"];
export type Table = Shapes["TableShape"];
export type TableRow = Shapes["RowShape"];
export type TableValue = Shapes["ValueShape"];
export type Nest = Shapes["NestShape"];
export type NestWanted = Shapes["NestWanted"];
export type NestKind = Shapes["NestKind"];
export type NestSheet = Shapes["NestSheet"];
export type NestPlacement = Shapes["NestPlacement"];
export type PaperFile = Shapes["PaperFile"];
export type Version = Shapes["VersionShape"];
export type VersionList = Shapes["VersionList"];
export type VersionChange = Shapes["VersionChange"];
export type RemovedJob = Shapes["RemovedJob"];
export type Session = Shapes["SessionShape"];
export type Right = Session["may"][number];
export type Role = NonNullable<Session["role"]>;
export type Seat = Shapes["SeatShape"];
export type SeatList = Shapes["SeatList"];
export type SeatChange = Shapes["SeatChange"];
export type Deed = Shapes["DeedShape"];
export type QuoteList = Shapes["QuoteList"];

export const AWAY: Fault = {
  code: "server-away",
  message: "The server on this machine does not answer.",
  where: "",
  remedy: "Start it again with “kerfwright serve”; what you typed stays here.",
  line: "",
};

/** What the server refused, in its own words. */
export class Refused extends Error {
  constructor(
    readonly status: number,
    readonly fault: Fault,
  ) {
    super(fault.message);
  }
}

/** Letters of a request that may outlive its page: 64 KiB by Fetch, 4.6, and letters have up to 3. */
const MOST_KEPT_ALIVE = 20_000;

/** What is asked of a job in one go. */
export interface Change {
  lines?: Record<string, string>;
  stage?: Stage;
  own?: { contours: string[]; demands: Record<string, string> }[];
}

/** Which jobs are listed, how, and how many at most. */
export interface ListWish {
  search: string;
  stage: Stage | "";
  by: string;
  rising: boolean;
  most: number;
}
/** What every request carries of who asks, and who is told that he is logged in no more. */
export const asking = { changeToken: "", lost: (): void => {} };

async function call(path: string, init?: RequestInit): Promise<Response> {
  let response: Response;
  try {
    const headers = new Headers(init?.headers);
    if (init?.method && asking.changeToken) headers.set("X-Kerfwright-Change", asking.changeToken);
    response = await fetch(`/api${path}`, { ...init, headers });
  } catch {
    throw new Refused(0, AWAY);
  }
  if (response.ok) return response;
  const fault = (await response.json().catch(() => null)) as Fault | null;
  if (fault?.code === "log-in-needed") asking.lost();
  throw new Refused(
    response.status,
    fault ?? { ...AWAY, code: "unreadable", message: response.statusText, remedy: "" },
  );
}

/** Return arrays; an answer that broke off before its first byte is none. */
async function bytes(path: string): Promise<ArrayBuffer> {
  const found = await (await call(path)).arrayBuffer().catch(() => null);
  if (!found?.byteLength) throw new Refused(0, AWAY);
  return found;
}

export async function get<T>(path: string): Promise<T> {
  return (await (await call(path)).json()) as T;
}

export async function send<T>(
  method: string,
  path: string,
  body?: unknown,
  revisions: number[] = [],
): Promise<T> {
  const headers: Record<string, string> = {};
  if (body !== undefined) headers["Content-Type"] = "application/json";
  const isChange = revisions.length > 0;
  if (isChange) {
    headers["If-Match"] = revisions.map((one) => `"${one}"`).join(", ");
    // Kept is enough of an answer: the numbers are fetched beside it, those of the last change only.
    headers.Prefer = "wait=0";
  }
  const text = body === undefined ? "" : JSON.stringify(body);
  const answer = await call(path, {
    method,
    headers,
    ...(text ? { body: text } : {}),
    // A change arrives though the page is closed at once; browsers take so much and no more of it.
    keepalive: isChange && text.length < MOST_KEPT_ALIVE,
  });
  return (answer.status === 204 ? undefined : await answer.json()) as T;
}

const at = (id: string): string => `/jobs/${encodeURIComponent(id)}`;

const parts = (key: string): string => key.split("/").map(encodeURIComponent).join("/");

export const api = {
  jobs: ({ search, stage, by, rising, most }: ListWish) => {
    const wish = new URLSearchParams({ search, by, rising: `${rising}`, most: `${most}` });
    if (stage) wish.set("stage", stage);
    return get<JobList>(`/jobs?${wish}`);
  },
  names: () => get<Names>("/names"),
  add: async (files: File[]): Promise<Added[]> => {
    const form = new FormData();
    for (const file of files) form.append("files", file);
    return (await (await call("/jobs", { method: "POST", body: form })).json()) as Added[];
  },
  sample: () => send<Card>("POST", "/jobs/sample"),
  job: (id: string) => get<Job>(at(id)),
  change: (id: string, wanted: Change, revisions: number[]) =>
    send<Job>("PATCH", at(id), wanted, revisions),
  tryPlace: (
    id: string,
    contour: string,
    what: Placeable,
    place: { text: string } | { x_mm: number; y_mm: number },
  ) => send<PlaceTried>("POST", `${at(id)}/places`, { contour, what, ...place }),
  pinned: (id: string) => get<Shapes["PinBoard"]>(`${at(id)}/pinned`),
  pin: async (id: string, file: File): Promise<Shapes["PinBoard"]> => {
    const form = new FormData();
    form.append("file", file);
    const answer = await call(`${at(id)}/pinned`, { method: "PUT", body: form });
    return (await answer.json()) as Shapes["PinBoard"];
  },
  unpin: (id: string) => send<void>("DELETE", `${at(id)}/pinned`),
  pinnedPage: (id: string, page: number, key: string) =>
    `/api${at(id)}/pinned/pages/${page}?key=${key}`,
  undo: (id: string, revision: number) =>
    send<Job>("POST", `${at(id)}/undo`, undefined, [revision]),
  redo: (id: string, revision: number) =>
    send<Job>("POST", `${at(id)}/redo`, undefined, [revision]),
  remove: (id: string) => send<void>("DELETE", at(id)),
  removed: () => get<Shapes["RemovedList"]>("/removed"),
  bringBack: (name: string) =>
    send<Shapes["BroughtBack"]>("POST", `/removed/${encodeURIComponent(name)}/bring-back`),
  deleteForGood: (name: string) => send<void>("DELETE", `/removed/${encodeURIComponent(name)}`),
  versions: (id: string) => get<VersionList>(`${at(id)}/versions`),
  versionReason: async (id: string, version: number, key: string): Promise<Reason> => {
    const found = await get<Record<string, Reason>>(
      `${at(id)}/versions/${version}/reasons?key=${encodeURIComponent(key)}`,
    );
    return found[key]!;
  },
  versionChanges: (id: string, first: number, second: number) =>
    get<Shapes["VersionChanges"]>(`${at(id)}/versions/${first}/against/${second}`),
  askAsIn: (id: string, version: number, revision: number) =>
    send<Job>("POST", `${at(id)}/versions/${version}/take-back`, undefined, [revision]),
  versionFile: (id: string, version: number, name: string) =>
    `/api${at(id)}/versions/${version}/files/${encodeURIComponent(name)}`,
  savings: (id: string) => send<unknown>("POST", `${at(id)}/savings`),
  stacks: (id: string, quantity: number) => send<unknown>("POST", `${at(id)}/stacks`, { quantity }),
  compute: (id: string) => send<unknown>("POST", `${at(id)}/draft`),
  prove: (id: string) => send<unknown>("POST", `${at(id)}/proof`),
  stop: (id: string, what: What) => send<void>("DELETE", `${at(id)}/running/${what}`),
  reason: async (id: string, key: string): Promise<Reason> => {
    const found = await get<Record<string, Reason>>(
      `${at(id)}/reasons?key=${encodeURIComponent(key)}`,
    );
    return found[key]!;
  },
  geometry: (id: string) => bytes(`${at(id)}/geometry`),
  wire: (id: string) => bytes(`${at(id)}/wire`),
  measured: (id: string) => get<MeasuredDesk>(`${at(id)}/measured`),
  record: (id: string, cut: CutSaid) => send<Recorded>("POST", `${at(id)}/measured`, cut),
  confirmSize: (id: string, pass: number) =>
    send<Recorded>("POST", `${at(id)}/measured/${pass}/confirm`),
  mendSize: (id: string, pass: number, reason: string) =>
    send<Recorded>("POST", `${at(id)}/measured/${pass}/mended`, { reason }),
  setOffset: (id: string, said: OffsetSetSaid) =>
    send<Recorded>("POST", `${at(id)}/measured/offset-set`, said),
  takeBack: (id: string, batch: string) => send<Recorded>("DELETE", `${at(id)}/measured/${batch}`),
  tables: () => get<TableCard[]>("/tables"),
  table: (name: string) => get<Table>(`/tables/${name}`),
  putValue: (name: string, key: string, text: string, source: string, is_meant = false) =>
    send<TableRow>("PUT", `/tables/${name}/values/${parts(key)}`, { text, source, is_meant }),
  dropValue: (name: string, key: string) =>
    send<TableRow>("DELETE", `/tables/${name}/values/${parts(key)}`),
  copyRow: (name: string, like: string, id: string, title: string) =>
    send<Table>("POST", `/tables/${name}/rows`, { like, id, title }),
  dropRow: (name: string, row: string) =>
    send<Table>("DELETE", `/tables/${name}/rows/${parts(row)}`),
  lay: (wanted: NestWanted) => send<Shapes["NestBegun"]>("POST", "/nests", wanted),
  nest: (id: string) => get<Nest>(`/nests/${encodeURIComponent(id)}`),
  endNest: (id: string) => send<void>("DELETE", `/nests/${encodeURIComponent(id)}/running`),
  tryNest: (id: string, moved: NestPlacement[]) =>
    send<Shapes["NestTried"]>("POST", `/nests/${encodeURIComponent(id)}/tried`, { moved }),
  moveNest: (id: string, moved: NestPlacement[]) =>
    send<Nest>("PUT", `/nests/${encodeURIComponent(id)}/placements`, { moved }),
  jobsOfNest: (id: string) =>
    send<Shapes["SheetJobs"]>("POST", `/nests/${encodeURIComponent(id)}/jobs`),
  moved: () => get<Moved>("/moved"),
  stopPricing: () => send<void>("DELETE", "/moved"),
  papers: (id: string) => get<PaperDesk>(`${at(id)}/papers`),
  wantPapers: (id: string, order: Partial<PaperOrder>, revision: number) =>
    send<PaperDesk>("PATCH", `${at(id)}/papers`, order, [revision]),
  makePapers: (id: string, revision: number) =>
    send<PaperDesk>("POST", `${at(id)}/papers`, {}, [revision]),
  paperAddress: (id: string, name: string) => `/api${at(id)}/papers/${name}`,
  pageAddress: (id: string, name: string, page: number, made: number) =>
    `/api${at(id)}/papers/${name}/pages/${page}?made=${made}`,
  cut: (id: string, what: "path" | "pieces" | "deviations" | "space" | "walls") =>
    bytes(`${at(id)}/cut/${what}`),
  program: async (id: string) => (await call(`${at(id)}/files/program.nc`)).text(),
  fileAddress: (id: string, name: string) => `/api${at(id)}/files/${name}`,
  session: () => get<Session>("/session"),
  logIn: (name: string, password: string) => send<Session>("POST", "/session", { name, password }),
  logOut: () => send<void>("DELETE", "/session"),
  changePassword: (now: string, next: string) =>
    send<void>("PUT", "/session/password", { now, next }),
  seats: () => get<SeatList>("/seats"),
  addSeat: (name: string, role: Role, customer: string, password: string) =>
    send<Seat>("POST", "/seats", { name, role, customer, password }),
  changeSeat: (name: string, change: Partial<SeatChange>) =>
    send<void>("PATCH", `/seats/${encodeURIComponent(name)}`, change),
  removeSeat: (name: string) => send<void>("DELETE", `/seats/${encodeURIComponent(name)}`),
  deeds: (before?: number) => get<Shapes["DeedList"]>(`/audit${before ? `?before=${before}` : ""}`),
  deedsAddress: "/api/audit.csv",
  quotes: () => get<QuoteList>("/quotes"),
  quoteAddress: (job: string) => `/api/quotes/${encodeURIComponent(job)}/quote.pdf`,
};
