import { Session } from 'node:inspector'

interface Coverage {
  readonly result: ReadonlyArray<{
    readonly url: string
    readonly functions: ReadonlyArray<{ readonly ranges: ReadonlyArray<{ readonly count: number }> }>
  }>
}

/** URLs of the code of the service, including generated code: validators and serializers. */
const isOurs = (url: string) => url === '' || (/\/src\//.test(url) && !url.includes('/node_modules/'))

/**
 * Counts the work of this thread: executions of functions and blocks of the service, by the precise coverage of V8. The same request
 * gives the same count on any machine, under any load. Built-in functions of the engine (parsing, sorting) are not counted.
 */
export class WorkMeter {
  private readonly session = new Session()

  constructor() {
    this.session.connect()
    this.post('Profiler.enable')
    this.post('Profiler.startPreciseCoverage', { callCount: true, detailed: true })
  }

  /** Number of blocks executed since the last call. */
  read(): number {
    let work = 0
    for (const { url, functions } of this.post<Coverage>('Profiler.takePreciseCoverage').result)
      if (isOurs(url)) for (const { ranges } of functions) for (const { count } of ranges) work += count
    return work
  }

  stop(): void {
    this.session.disconnect()
  }

  /** The inspector of the same thread answers synchronously. */
  private post<T>(method: string, parameters: object = {}): T {
    let answer: unknown
    this.session.post(method, parameters, (error, result) => {
      if (error !== null) throw new Error(`${method}: ${error.message}`)
      answer = result
    })
    return answer as T
  }
}
