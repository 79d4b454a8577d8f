import { type ChildProcess, spawn, spawnSync } from 'node:child_process'
import { once } from 'node:events'
import { afterEach } from 'vitest'

/** Whether strace is there and may look into a process; where it must be, `REQUIRE_STRACE=1` makes its absence a failure. */
function mayTrace(): boolean {
  const { status } = spawnSync('strace', ['-o', '/dev/null', '-e', 'trace=fsync', 'true'])
  if (status === 0) return true
  if (process.env.REQUIRE_STRACE === '1') throw new Error('REQUIRE_STRACE=1, but strace does not run here')
  return false
}

export const CAN_TRACE = process.platform === 'linux' && mayTrace()
if (!CAN_TRACE) console.log('skipped: faults of the disk are not injected, for strace does not run here')

const injected: Fault[] = []

afterEach(async () => {
  await Promise.all(injected.splice(0).map((fault) => fault.lift()))
})

/** Makes system calls of a running process fail until it is lifted. */
export class Fault {
  private readonly tracer: ChildProcess

  private constructor(tracer: ChildProcess) {
    this.tracer = tracer
    injected.push(this)
  }

  /**
   * @param calls - Names of system calls, with commas
   * @param how - What `strace -e inject=` takes: `error=EIO:when=3+`
   */
  static async inject(pid: number, calls: string, how: string): Promise<Fault> {
    const tracer = spawn(
      'strace',
      ['-f', '-p', String(pid), '-o', '/dev/null', '-e', `trace=${calls}`, '-e', `inject=${calls}:${how}`],
      { stdio: ['ignore', 'ignore', 'pipe'] },
    )
    let said = ''
    await new Promise<void>((resolve, reject) => {
      tracer.stderr!.on('data', (chunk) => {
        said += chunk
        if (/attached/.test(said)) resolve()
      })
      tracer.once('exit', () => reject(new Error(`strace: ${said}`)))
    })
    return new Fault(tracer)
  }

  async lift(): Promise<void> {
    if (this.tracer.exitCode !== null || this.tracer.signalCode !== null) return
    this.tracer.kill('SIGINT')
    await once(this.tracer, 'exit')
  }
}
