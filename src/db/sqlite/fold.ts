/** How makes, models and makers are compared: without regard to case, width of letters or spaces, or ways to write an accent. */
export const fold = (text: string | undefined) =>
  text?.normalize('NFKC').toLowerCase().trim().replaceAll(/\s+/g, ' ') ?? null
