//! The parameters of a command: channels, and nothing behind them.

use scpi::parser::expression::channel_list::{ChannelList, Token as Listed};
use scpi::tree::prelude::*;

/// Returns the channels a query is for, 1 when it says nothing; expected value and resolution set nothing here.
pub(super) fn asked_channels(
    params: &mut Parameters<'_, '_>,
    most: usize,
) -> Result<Vec<usize>, Error> {
    let mut numbers = 0;
    while let Some(token) = params.next_optional_token()? {
        match token {
            Token::ExpressionProgramData(list) => {
                nothing_more(params)?;
                return listed_channels(list, most);
            }
            Token::DecimalNumericProgramData(_)
            | Token::DecimalNumericSuffixProgramData(..)
            | Token::CharacterProgramData(_)
                if numbers < 2 =>
            {
                numbers += 1;
            }
            Token::DecimalNumericProgramData(_)
            | Token::DecimalNumericSuffixProgramData(..)
            | Token::CharacterProgramData(_) => return Err(ErrorCode::ParameterNotAllowed.into()),
            _ => return Err(ErrorCode::DataTypeError.into()),
        }
    }
    Ok(vec![1])
}

/// Refuses parameters before anything is answered, or half an answer would be sent.
pub(super) fn nothing_more(params: &mut Parameters<'_, '_>) -> Result<(), Error> {
    match params.next_optional_token()? {
        Some(_) => Err(ErrorCode::ParameterNotAllowed.into()),
        None => Ok(()),
    }
}

fn listed_channels(list: &[u8], most: usize) -> Result<Vec<usize>, Error> {
    let mut channels = Vec::new();
    for item in ChannelList::new(list).ok_or(ErrorCode::InvalidExpression)? {
        let (first, last) = match item? {
            Listed::ChannelSpec(channel) => {
                let channel = usize::try_from(channel)?;
                (channel, channel)
            }
            Listed::ChannelRange(first, last) => (usize::try_from(first)?, usize::try_from(last)?),
            _ => return Err(ErrorCode::InvalidExpression.into()),
        };
        if first < 1 || last < first || last > most {
            return Err(ErrorCode::DataOutOfRange.into());
        }
        channels.extend(first..=last);
    }
    if channels.is_empty() {
        return Err(ErrorCode::InvalidExpression.into());
    }
    Ok(channels)
}
