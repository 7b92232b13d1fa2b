/** Whether the service is on its way out. It goes one way only. */
export interface Lifecycle {
  readonly isStopping: () => boolean;
  readonly beginStopping: () => void;
}

export function newLifecycle(): Lifecycle {
  let stopping = false;
  return {
    isStopping: () => stopping,
    beginStopping: () => {
      stopping = true;
    },
  };
}
