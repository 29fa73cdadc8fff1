/** What the page asks of the week; moments are by the clock on the wall of the shop. */
import { get, send } from "./api";
import type { components } from "./api-types";

type Shapes = components["schemas"];
export type WeekDesk = Shapes["WeekDeskShape"];
export type Week = Shapes["WeekShape"];
export type Booking = Shapes["WeekBooking"];
export type Touch = Shapes["WeekTouch"];
export type Mark = Shapes["MarkShape"];
export type MarkSaid = Partial<Shapes["MarkSaid"]> & { kind: Mark["kind"] };
export type Ordered = Shapes["OrderedJob"];
export type Park = Shapes["ParkShape"];
export type WeekWanted = Partial<Shapes["WeekWanted"]>;

const at = (job: string): string => `/jobs/${encodeURIComponent(job)}/marks`;

export const weekApi = {
  week: () => get<WeekDesk>("/week"),
  plan: (wanted: WeekWanted) => send<WeekDesk>("POST", "/week", wanted),
  end: () => send<void>("DELETE", "/week/running"),
  forget: () => send<void>("DELETE", "/week/tried"),
  keep: () => send<WeekDesk>("POST", "/week/keep"),
  park: () => get<Park>("/park"),
  setPark: (text: string, insteadOf: string | null) =>
    send<Park>("PUT", "/park", { text, instead_of: insteadOf }),
  stands: (said: Shapes["DownSaid"]) => send<Park>("POST", "/park/downs", said),
  mark: (job: string, said: MarkSaid) => send<Mark>("POST", at(job), said),
  unmark: (job: string, mark: string) =>
    send<void>("DELETE", `${at(job)}/${encodeURIComponent(mark)}`),
};
