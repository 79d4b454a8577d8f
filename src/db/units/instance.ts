import type { InstanceStore } from '../store/instance.js'
import type { Session } from './session.js'

export function instanceStore({ prepare, read }: Session): InstanceStore {
  const secret = prepare<{ cursor_secret: Uint8Array }>('SELECT cursor_secret FROM instance')
  return {
    cursorSecret: read(function* () {
      return (yield* secret.get())!.cursor_secret
    }),
  }
}
