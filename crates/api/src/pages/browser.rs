//! The browser that somebody signs in with: what it says of itself, from where it asks, and
//! whether it is known.

use std::convert::Infallible;

use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderValue, header};
use axum::response::Response;
use capful_store::Device;
use uuid::Uuid;

use super::passwords;
use super::visitor::cookie;
use crate::api::Api;
use crate::client_address::ClientAddress;
use crate::problem::Problem;

/// The cookie that a browser is known again by. It signs nobody in.
const COOKIE: &str = "capful_device";
/// People that share one browser and are known in it.
const MOST_SHARING: usize = 4;
/// How long a browser is known that nobody signs in with, in days.
const DEVICE_DAYS: i64 = 400;
/// The longest that a browser is told of, in characters.
const MOST_WORDS: usize = 48;

/// What a browser says of itself.
#[derive(Debug, Clone, Default)]
pub(crate) struct Browser {
    /// What it is, in a few words: what it runs on, behind `phone`, `tablet` or `computer`.
    pub words: String,
    /// From where it asks.
    pub address: ClientAddress,
    /// What it holds of those who signed in with it, the last first.
    devices: Vec<String>,
}

impl<S: Send + Sync> FromRequestParts<S> for Browser {
    type Rejection = Infallible;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, Infallible> {
        let address = ClientAddress::from_request_parts(parts, state).await?;
        let devices = cookie(&parts.headers, COOKIE).unwrap_or_default();
        let devices = devices.split('.').filter(|text| !text.is_empty()).take(MOST_SHARING);
        let devices = devices.map(str::to_owned).collect();
        Ok(Self { words: words(&parts.headers), address, devices })
    }
}

impl Browser {
    /// The device that somebody is known by in it.
    ///
    /// # Errors
    /// [`Problem`] where the store does not answer.
    pub(crate) async fn device_of(
        &self,
        api: &Api,
        person: Uuid,
    ) -> Result<Option<Device>, Problem> {
        for text in &self.devices {
            if let Some(device) = api.store.device(text).await?.filter(|own| own.person == person) {
                return Ok(Some(device));
            }
        }
        Ok(None)
    }

    /// Notes that somebody signed in with it, so that it is known again.
    ///
    /// # Errors
    /// [`Problem`] where the store does not answer.
    pub(crate) async fn remember(
        &self,
        api: &Api,
        response: &mut Response,
        (shop, person): (Uuid, Uuid),
    ) -> Result<(), Problem> {
        let now = api.now();
        if let Some(device) = self.device_of(api, person).await? {
            api.store.see_device(shop, device.id, now).await?;
            self.keep(api, response, None);
            return Ok(());
        }
        let text = passwords::secret()?;
        api.store.add_device(shop, person, &text, now).await?;
        self.keep(api, response, Some(&text));
        Ok(())
    }

    /// Keeps what the browser is known by in it, with one more or as it was.
    pub(super) fn keep(&self, api: &Api, response: &mut Response, new: Option<&str>) {
        let all = new.into_iter().chain(self.devices.iter().map(String::as_str));
        let all = all.take(MOST_SHARING).collect::<Vec<_>>().join(".");
        let age = DEVICE_DAYS * 24 * 60 * 60;
        let secure = if api.settings.is_https() { "; Secure" } else { "" };
        let rest = format!("Path=/sign-in; HttpOnly; SameSite=Lax; Max-Age={age}{secure}");
        if let Ok(value) = HeaderValue::from_str(&format!("{COOKIE}={all}; {rest}")) {
            response.headers_mut().append(header::SET_COOKIE, value);
        }
    }
}

/// A browser in a few words, of what it says of itself: the kind of device, and what that runs on.
fn words(headers: &HeaderMap) -> String {
    let said = headers.get(header::USER_AGENT).and_then(|value| value.to_str().ok());
    let said = said.unwrap_or_default();
    let kind = match said {
        "" => return String::new(),
        _ if said.contains("Tablet") || said.contains("iPad") => "tablet",
        _ if said.contains("Mobile") => "phone",
        _ => "computer",
    };
    let runs_on = said.split_once('(').and_then(|(_, rest)| rest.split_once(')'));
    let runs_on = runs_on.map_or(said, |(inside, _)| inside);
    let runs_on: String = runs_on.chars().filter(|c| !c.is_control()).take(MOST_WORDS).collect();
    format!("{kind} {}", runs_on.trim())
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn a_browser_is_told_of_in_a_few_words() {
        let told = |said: &str| {
            let mut headers = HeaderMap::new();
            headers.insert(header::USER_AGENT, said.parse().unwrap());
            words(&headers)
        };
        let phone = "Mozilla/5.0 (Linux; Gull 14; K) Engine/1 (like others) Mobile";
        assert_eq!(told(phone), "phone Linux; Gull 14; K");
        assert_eq!(told("Mozilla/5.0 (X11; Linux x86_64)"), "computer X11; Linux x86_64");
        assert_eq!(told("Tablet (Pad)"), "tablet Pad");
        assert_eq!(told("probe/1"), "computer probe/1");
        assert_eq!(words(&HeaderMap::new()), "");
        assert!(told(&format!("({})", "a".repeat(900))).len() < 60);
    }
}
