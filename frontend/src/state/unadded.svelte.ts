/** Files to which no answer came: kept by where they go, as long as the page is open. */
interface Kept {
  to: string;
  file: File;
}

let kept = $state.raw<Kept[]>([]);

export const unadded = {
  /** Files that wait for a place, which is a job, or the list by an empty name. */
  of: (to: string): File[] => kept.filter((one) => one.to === to).map((one) => one.file),

  keep(to: string, files: File[]): void {
    kept = [...kept, ...files.map((file) => ({ to, file }))];
  },

  drop(to: string, files: File[]): void {
    kept = kept.filter((one) => one.to !== to || !files.includes(one.file));
  },
};
