import { Session } from 'node:inspector'

interface Coverage {
  readonly result: ReadonlyArray<{
    readonly url: string
    readonly functions: ReadonlyArray<{ readonly ranges: ReadonlyArray<{ readonly count: number }> }>
  }>
}

/** Code of the service, and code made while it runs: validators and serializers. */
const isOurs = (url: string) => url === '' || (/\/src\//.test(url) && !url.includes('/node_modules/'))

/**
 * Counts the work of this thread: how often functions and blocks of the service were run, by the precise coverage of V8. The same request
 * gives the same count on any machine, whatever else the machine does. What is built into the engine (parsing, sorting) counts for nothing.
 */
export class WorkMeter {
  private readonly session = new Session()

  constructor() {
    this.session.connect()
    this.post('Profiler.enable')
    this.post('Profiler.startPreciseCoverage', { callCount: true, detailed: true })
  }

  /** Blocks that were run since it was last asked. */
  read(): number {
    let work = 0
    for (const { url, functions } of this.post<Coverage>('Profiler.takePreciseCoverage').result)
      if (isOurs(url)) for (const { ranges } of functions) for (const { count } of ranges) work += count
    return work
  }

  stop(): void {
    this.session.disconnect()
  }

  /** The inspector of the own thread answers before the call returns. */
  private post<T>(method: string, parameters: object = {}): T {
    let answer: unknown
    this.session.post(method, parameters, (error, result) => {
      if (error !== null) throw new Error(`${method}: ${error.message}`)
      answer = result
    })
    return answer as T
  }
}
