import type { Author, Page, PageRequest, Versions } from './common.js'
import type { SaveResponse } from './stored-responses.js'

export interface CalibrationInput {
  /** Name of the path of the vehicle that was calibrated. */
  readonly path: string
  readonly accepted: boolean
  /** JSON texts: the readings as given, and what was computed from them. */
  readonly request: string
  readonly result: string
}

export interface Calibration extends CalibrationInput {
  readonly id: string
  readonly vehicleId: string
  readonly version: number
  readonly createdAtMs: number
  readonly changedAtMs: number
}

export type Recorded =
  | { readonly outcome: 'recorded'; readonly calibration: Calibration }
  | { readonly outcome: 'absent' }

export type Judged =
  | { readonly outcome: 'judged'; readonly calibration: Calibration }
  | { readonly outcome: 'absent' }
  | { readonly outcome: 'stale'; readonly version: number }

/** Calibrations of the vehicles of an account. Those of other accounts do not exist for any method. */
export interface CalibrationStore {
  record(
    author: Author,
    vehicleId: string,
    input: CalibrationInput,
    save?: SaveResponse<Calibration>,
  ): Promise<Recorded>
  /** Newest first; undefined when there is no such vehicle. */
  list(accountId: string, vehicleId: string, page: PageRequest): Promise<Page<Calibration> | undefined>
  read(accountId: string, vehicleId: string, id: string): Promise<Calibration | undefined>
  /** Accepts a calibration, or withdraws the acceptance. */
  judge(author: Author, vehicleId: string, id: string, versions: Versions, accepted: boolean): Promise<Judged>
  newestAccepted(accountId: string, vehicleId: string, path: string): Promise<Calibration | undefined>
}
