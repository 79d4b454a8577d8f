/** A note in an answer. `caution` means a danger, a legal risk or an uncertain result. */
export interface Note {
  readonly code: string
  readonly level: 'info' | 'caution'
  readonly text: string
}

/**
 * A remark that is good to know.
 *
 * @param code - Subject of the note, for programs
 * @param text - The note, for people
 * @returns The note
 * @see a choice of this service
 * @example infoNote('a', 'b') // {"code":"a","level":"info","text":"b"}
 */
export function infoNote(code: string, text: string): Note {
  return { code, level: 'info', text }
}

/**
 * A remark on a danger, a legal risk or an uncertain result.
 *
 * @param code - Subject of the note, for programs
 * @param text - The note, for people
 * @returns The note
 * @see a choice of this service
 * @example cautionNote('a', 'b').level // "caution"
 */
export function cautionNote(code: string, text: string): Note {
  return { code, level: 'caution', text }
}
