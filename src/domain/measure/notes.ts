/** A note in an answer. `caution` means a danger, a legal risk or an uncertain result. */
export interface Note {
  readonly code: string
  readonly level: 'info' | 'caution'
  readonly text: string
}
