export interface InstanceStore {
  /** Signs page cursors; made once with the store. */
  cursorSecret(): Promise<Uint8Array>
}
