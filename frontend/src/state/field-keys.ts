/** Keys of a field that is opened in its line: Enter stores it, Escape leaves it as it was. */
export function fieldKeys(store: () => void, leave: () => void): (e: KeyboardEvent) => void {
  return (e) => {
    if (e.key === "Escape") leave();
    if (e.key !== "Enter" || e.target instanceof HTMLTextAreaElement) return;
    // The button that takes the focus would be pressed by the same key.
    e.preventDefault();
    store();
  };
}
