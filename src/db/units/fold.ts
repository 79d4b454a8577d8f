/** Normal form for comparing makes, models and makers: case, width of letters, spaces and forms of accents do not matter. */
export const fold = (text: string | undefined) =>
  text?.normalize('NFKC').toLowerCase().trim().replaceAll(/\s+/g, ' ') ?? null
