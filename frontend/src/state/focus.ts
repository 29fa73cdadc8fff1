/** Where the keyboard is. */

/** Whether nothing has the focus: what had it was taken off the page, or is disabled. */
export const isNowhere = (): boolean =>
  !document.activeElement || document.activeElement === document.body;
