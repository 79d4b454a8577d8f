import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach } from 'vitest'

/** A new folder for one test, gone after it. */
export function tempFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), 'wheel-to-dial-'))
  folders.push(folder)
  return folder
}

const folders: string[] = []

afterEach(() => {
  for (const folder of folders.splice(0)) rmSync(folder, { recursive: true, force: true })
})
