/**
 * Answers may overtake one another: one asked for before the one that stands says what was before,
 * and would take back what has come out since.
 */
export class Turns {
  private asked = 0;
  private taken = 0;

  /** Ask, and return the answer with whether a later question was answered before. */
  async ask<T>(answer: Promise<T>): Promise<[T, boolean]> {
    const turn = ++this.asked;
    const said = await answer;
    const isLate = turn < this.taken;
    this.taken = Math.max(this.taken, turn);
    return [said, isLate];
  }
}
