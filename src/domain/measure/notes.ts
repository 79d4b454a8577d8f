/** A note in an answer. `caution` means a danger, a legal risk or a doubtful result. */
export interface Note {
  readonly code: string
  readonly level: 'info' | 'caution'
  readonly text: string
}
